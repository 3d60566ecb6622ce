"""Still pictures of a study as files."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from raytrace import Study
from viewer import look
from viewer.files import Origin, Place, moved_into_place
from viewer.look import AFTER, BEFORE, View
from viewer.pictures.framing import listening_end
from viewer.pictures.labels import Box
from viewer.pictures.lighting import light_room
from viewer.pictures.pictures import make_picture, make_plain
from viewer.pictures.seeing import see
from viewer.pictures.shells import Shell, make_shell_picture
from viewer.pictures.stage import set_stage
from viewer.pictures.surfaceviews import views_of

if TYPE_CHECKING:
    from PIL.Image import Image

STILLS = "set of pictures"
"""What pictures are called in their record."""
Progress = Callable[[str, float], None]
Plates = Literal["words", "plain", "clear"]


@dataclass(frozen=True)
class Lettering:
    """What is written in pictures.

    Attributes
    ----------
    units : {"metric", "imperial"}
        Of lengths.
    plate : {"words", "plain", "clear"}
        With names, key and caption; the room alone on white; the room alone on clear ground.
    """

    units: str = "metric"
    plate: Plates = "words"


_USUAL = Lettering()


@dataclass(frozen=True)
class Still:
    """One picture on disk.

    Attributes
    ----------
    name : str
        "room", "plan", "section", or "surface-" and the name of a treated surface.
    path : Path
        The PNG file.
    caption : str
        What to see in it, in client words.
    boxes : tuple of Box
        Every text in it. [px]
    drawing : Box
        The part that holds the room. [px]
    """

    name: str
    path: Path
    caption: str
    boxes: tuple[Box, ...]
    drawing: Box


def draw_stills(
    study: Study,
    folder: str | Path,
    size: tuple[int, int] = look.REFERENCE_SIZE,
    *,
    lettering: Lettering = _USUAL,
    before: Study | None = None,
    progress: Progress | None = None,
) -> tuple[Still, ...]:
    """The whole room, the plan, the side view and each treated surface as PNG files.

    Parameters
    ----------
    study : Study
        What to show; the pictures are about its first seat.
    folder : path
        Where to; must exist.
    size : (width, height)
        In pixels.
    lettering : Lettering
    before : Study, optional
        The room before it was changed: two more pictures then show both from one place, without words.
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    tuple of Still
    """
    views = (*views_of(study), *(() if before is None else (BEFORE, AFTER)))
    drawn = chain(
        _draw(study, views_of(study), Path(folder), size, lettering),
        () if before is None else _draw_pair(before, study, Path(folder), size, lettering),
    )
    return tuple(_reported(drawn, views, progress))


def draw_shells(
    study: Study, shells: Sequence[Shell], folder: str | Path, *, units: str = "metric"
) -> tuple[Still, ...]:
    """Where reflections that nothing drawn explains can have come over, a PNG file for each.

    Parameters
    ----------
    study : Study
        Of which only scene, room and arrivals are looked at.
    shells : sequence of Shell
    folder, units
        As in `draw_stills`.
    """
    return tuple(_draw(study, shells, Path(folder), look.REFERENCE_SIZE, Lettering(units)))


def write_stills(
    study: Study,
    where: str | Path | Place,
    *,
    draw_more: Callable[[Path], None] = lambda _folder: None,
    **drawing: Any,
) -> tuple[Still, ...]:
    """The same as `draw_stills` as a folder of its own, complete or not at all.

    Parameters
    ----------
    study
        As in `draw_stills`.
    where : path or Place
        The folder. It is written beside and moved there when complete; one that is there already is replaced
        if it holds earlier pictures of the same scene, as they were written.
    draw_more : callable
        Puts further files into the folder before it is moved.
    **drawing
        size, lettering, before and progress as in `draw_stills`.

    Returns
    -------
    tuple of Still

    Raises
    ------
    OutputRefused
        If something else stands there, or nothing can be written; nothing is touched then.
    """
    with moved_into_place(where, Origin.of(STILLS, study.scene)) as staging:
        stills = draw_stills(study, staging, **drawing)
        draw_more(staging)
    return tuple(replace(still, path=Place.of(where).path / still.path.name) for still in stills)


def _draw(
    study: Study, shown: Sequence[View | Shell], folder: Path, size: tuple[int, int], lettering: Lettering
) -> Iterator[Still]:
    """Draw and save one picture after the other."""
    stage = set_stage(study)
    raster = partial(see, lighting=light_room(stage))
    for own in shown:
        if isinstance(own, View) and lettering.plate != "words":
            yield _plain_still(make_plain(stage, own, size, raster=raster), folder, own, lettering)
            continue
        if isinstance(own, Shell):
            picture = make_shell_picture(stage, own, size, raster=raster)
        else:
            picture = make_picture(stage, own, size, units=lettering.units, raster=raster)
        path = _save(picture.image, folder, own)
        yield Still(own.name, path, picture.caption, picture.boxes, picture.drawing)


def _draw_pair(
    before: Study, after: Study, folder: Path, size: tuple[int, int], lettering: Lettering
) -> Iterator[Still]:
    """Two states of a room from the camera that is best for the later one."""
    stages = [set_stage(study) for study in (before, after)]
    ends = [listening_end(stage) for stage in stages]
    cut_m = None if None in ends else max(end for end in ends if end is not None)
    stages = [replace(stage, cut_m=cut_m) for stage in stages]
    for stage, view in zip(stages, (BEFORE, AFTER), strict=True):
        raster = partial(see, lighting=light_room(stage))
        yield _plain_still(
            make_plain(stage, view, size, raster=raster, like=stages[1]), folder, view, lettering
        )


def _plain_still(image: "Image", folder: Path, view: View, lettering: Lettering) -> Still:
    path = _save(image if lettering.plate == "clear" else _on_white(image), folder, view)
    return Still(view.name, path, view.caption, (), Box("drawing", 0.0, 0.0, *map(float, image.size)))


def _save(image: "Image", folder: Path, shown: View | Shell) -> Path:
    path = folder / f"{shown.name}.png"
    image.save(path, dpi=(look.DPI, look.DPI), compress_level=look.PNG_LEVEL)
    return path


def _on_white(image: "Image") -> "Image":
    from PIL import Image

    sheet = Image.new("RGB", image.size, look.WHITE)
    sheet.paste(image, mask=image)
    return sheet


def _reported(stills: Iterator[Still], views: tuple[View, ...], progress: Progress | None) -> Iterator[Still]:
    """The same, each announced before it is begun."""
    for i, view in enumerate(views):
        if progress:
            progress(f"picture: {view.title.lower()}", i / len(views))
        still = next(stills, None)
        if still is None:
            return
        yield still
    if progress:
        progress("pictures done", 1.0)
