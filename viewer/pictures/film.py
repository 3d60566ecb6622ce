"""A short film of a room: a slow turn, then the first milliseconds of sound along its paths."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from raytrace import Bars, Canvas, Study
from viewer import look
from viewer.files import refusing_trouble, written_beside
from viewer.pictures import meshes
from viewer.pictures.camera import Camera, fit_camera
from viewer.pictures.faces import loops_of
from viewer.pictures.framing import listening_end
from viewer.pictures.layers import choose_camera, room_layers
from viewer.pictures.lighting import Lighting, light_room
from viewer.pictures.plate import Plate
from viewer.pictures.seeing import canvas_for, lay
from viewer.pictures.stage import Stage, set_stage

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.TiffImagePlugin import TiffImageFile

Floats = NDArray[np.float64]
Progress = Callable[[str, float], None]

FILM_FORMATS = (".webp", ".gif")
MOST_BYTES = 8_000_000
SIZE = (960, 640)
TURN_S, SOUND_S, HOLD_S = 4.6, 4.4, 1.0
FRAMES_PER_S = {".webp": 20, ".gif": 10}
HEARD_S = 0.020  # of the sound, counted from when it leaves the speakers
SWING_DEG = 32.0  # to either side of where the sound is watched from
EDGE_PX, HEAD_PX, FOOT_PX = 22, 58, 40
TAIL_M, TRAIL_OPACITY, FRONT_M = 0.5, 0.45, 0.035


@dataclass(frozen=True)
class _Set:
    """What all frames share."""

    stage: Stage
    lighting: Lighting
    camera: Camera

    @property
    def lines(self) -> list[tuple[Floats, Floats, float]]:
        """Points, colour and radius of every path that is shown, from speaker to ear."""
        stage, scale = self.stage, self.stage.scale
        mesh = meshes.paths(stage.study, stage.shown.main)
        rows = stage.study.arrivals
        levels = look.level_colours(rows.level_re_limit_db[stage.shown.main])
        radii = np.where(rows.order[stage.shown.main] == 1, look.TUBE_M, look.TUBE_HIGHER_M) * scale
        found = list(zip(loops_of(mesh), levels, radii.tolist(), strict=True))
        direct = loops_of(meshes.direct_paths(stage.study, stage.shown.seat))
        return [*found, *((line, look.rgb(look.INK), look.DIRECT_M * scale) for line in direct)]


def write_film(study: Study, path: Path, *, progress: Progress = lambda _text, _share: None) -> None:
    """Film a study's first seat: ten seconds, at most 8 MB, there whole or not at all.

    Parameters
    ----------
    study : Study
    path : Path
        Ends in one of FILM_FORMATS.
    progress : callable
        Called with a text and the share done (0 to 1), at every frame.

    Raises
    ------
    OutputRefused
        If it cannot be written; what was there is left as it was.
    """
    suffix = path.suffix.lower()
    rate = FRAMES_PER_S[suffix]
    with refusing_trouble(path), written_beside(path) as beside:
        _write_frames(_frames(study, rate, progress), rate, beside, suffix)
    progress("film done", 1.0)


def _frames(study: Study, rate: int, progress: Progress) -> Iterator["Image"]:
    stage = set_stage(study)
    stage = replace(stage, cut_m=listening_end(stage))
    inner = (SIZE[0] - 2 * EDGE_PX, SIZE[1] - HEAD_PX - FOOT_PX)
    shown = _Set(stage, light_room(stage), choose_camera(stage, look.VIEWS[0], inner))
    title = study.scene.title
    total = round((TURN_S + SOUND_S + HOLD_S) * rate)
    for k in range(round(TURN_S * rate)):
        progress("film: the room", k / total)
        camera = _turned(shown, k / round(TURN_S * rate))
        canvas = canvas_for(camera, shown.lighting)
        lay(canvas, room_layers(stage, camera), camera, shown.lighting)
        yield _sheet(canvas, title, "")
    still = canvas_for(shown.camera, shown.lighting)
    lay(still, room_layers(stage, shown.camera), shown.camera, shown.lighting)
    lines = shown.lines
    n_sound = round(SOUND_S * rate)
    for k in range(total - round(TURN_S * rate)):
        progress("film: the sound", (total - n_sound + min(k, n_sound)) / total)
        at_s = HEARD_S * min(1.0, k / n_sound)
        canvas = still.branch()
        canvas.bars(sound_bars(lines, at_s * study.room.speed_of_sound_m_s, stage.scale))
        yield _sheet(canvas, title, f"{at_s * 1e3:.0f} ms after it left the speakers")


def _turned(shown: _Set, share: float) -> Camera:
    """The camera on its way round: out to one side and, slower towards the end, to where it stays."""
    swing = np.radians(SWING_DEG) * np.sin(2 * np.pi * share)
    towards = -shown.camera.forward
    flat = np.array([[np.cos(swing), -np.sin(swing)], [np.sin(swing), np.cos(swing)]]) @ towards[:2]
    size = (shown.camera.width, shown.camera.height)
    return fit_camera(
        shown.stage.corners,
        (float(flat[0]), float(flat[1]), float(towards[2])),
        up=look.VIEWS[0].up,
        view_angle_deg=look.VIEW_ANGLE_DEG,
        size=size,
        margin=look.FRAME_MARGIN,
    )


def sound_bars(lines: list[tuple[Floats, Floats, float]], reach_m: float, scale: float) -> Bars:
    """Paths as far as the sound has come: a pale trail, a strong end, a ball at the front."""
    ends: list[Floats] = []
    looks: list[tuple[float, float, bool]] = []
    colours: list[Floats] = []

    def add(piece: Floats, colour: Floats, radius_m: float, opacity: float, *, is_ball: bool = False) -> None:
        ends.append(piece)
        colours.append(colour)
        looks.append((radius_m, opacity, is_ball))

    for line, colour, radius_m in lines:
        start_m = 0.0
        for one, other in pairwise(line):
            length_m = float(np.linalg.norm(other - one))
            done = min(1.0, (reach_m - start_m) / length_m)
            if done <= 0.0:
                break
            point = one + done * (other - one)
            fresh = max(0.0, (reach_m - TAIL_M * scale - start_m) / length_m)
            if fresh < done:
                add(np.array([one + fresh * (other - one), point]), colour, radius_m, 1.0)
            if fresh > 0.0:
                add(
                    np.array([one, one + min(fresh, done) * (other - one)]),
                    colour,
                    0.7 * radius_m,
                    TRAIL_OPACITY,
                )
            if done < 1.0:
                add(np.array([point, point]), colour, FRONT_M * scale, 1.0, is_ball=True)
            start_m += length_m
    radii, opacities, balls = np.array(looks).reshape(-1, 3).T
    return Bars(
        np.array(ends).reshape(-1, 2, 3),
        radii,
        np.array(colours).reshape(-1, 3),
        opacities,
        balls.astype(bool),
    )


def _sheet(canvas: Canvas, title: str, words: str) -> "Image":
    """A frame: the room between the title and the time."""
    from PIL import Image

    plate = Plate(SIZE)
    plate.paste(Image.fromarray(canvas.pixels, "RGBA"), (EDGE_PX, HEAD_PX))
    width = SIZE[0] - 2 * EDGE_PX
    plate.text((EDGE_PX, 16), plate.shortened(title, 24, width, bold=True), 24, bold=True)
    if words:
        foot = SIZE[1] - FOOT_PX + 4
        plate.text((EDGE_PX, foot), words, 17, colour=look.INK)
        said = "the darker, the stronger it arrives"
        plate.text((SIZE[0] - EDGE_PX, foot), said, 17, colour=look.MUTED, align="right")
    return plate.finish()


def _write_frames(frames: Iterable["Image"], rate: int, path: Path, suffix: str) -> None:
    """WebP or GIF, smaller in steps until it is no longer than allowed."""
    from PIL import ImageSequence
    from PIL.Image import Dither

    with TemporaryFile() as scratch:
        reel = _on_disk(frames, scratch)
        for width in (SIZE[0], 800, 640, 480):
            size = (width, round(width * SIZE[1] / SIZE[0]))
            options: dict[str, Any] = {"format": "WEBP", "quality": 86, "method": 2}
            shown: list[Image] = [reel]
            if suffix == ".gif":
                options = {"format": "GIF", "optimize": False, "disposal": 1}
                reel.seek(reel.n_frames - 1)
                middle = reel.resize(size).quantize(colors=255)
                every = (frame.resize(size) for frame in ImageSequence.Iterator(reel))
                shown = [frame.quantize(palette=middle, dither=Dither.NONE) for frame in every]
            elif width != SIZE[0]:
                shown = [frame.resize(size) for frame in ImageSequence.Iterator(reel)]
            shown[0].save(
                path, save_all=True, append_images=shown[1:], duration=round(1000 / rate), loop=0, **options
            )
            if path.stat().st_size <= MOST_BYTES:
                return


def _on_disk(frames: Iterable["Image"], scratch: IO[bytes]) -> "TiffImageFile":
    """All frames as one file, of which one at a time is in memory: together they take half a gigabyte."""
    from PIL.TiffImagePlugin import AppendingTiffWriter, TiffImageFile

    with AppendingTiffWriter(scratch, new=True) as writer:
        for frame in frames:
            frame.save(writer, format="TIFF", compression="tiff_lzw")
            writer.newFrame()
    scratch.seek(0)
    return TiffImageFile(scratch)
