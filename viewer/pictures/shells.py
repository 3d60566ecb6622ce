"""Pictures of where a reflection that nothing drawn explains can have come over: its shell in the room."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

import raytrace
from raytrace import Study, format_length
from viewer import look
from viewer.pictures.camera import Camera
from viewer.pictures.faces import dashes, polylines
from viewer.pictures.key import draw_signs
from viewer.pictures.labels import Box, Label, place_labels
from viewer.pictures.layers import choose_camera, room_layers
from viewer.pictures.pictures import Picture, Raster
from viewer.pictures.plate import Plate, draw_labels, draw_title, lay_out, measure_label
from viewer.pictures.stage import Floats, Layer, Stage, one_colour, seen_facets
from viewer.words import decibels, seat_words, speaker_words

if TYPE_CHECKING:  # only who has measured needs what these load
    from raytrace import Held, Measurement, PointSet

_VIEW = look.VIEWS[0]
_GONE_OPACITY = 0.35  # of curves on faces that are taken away
_N_AROUND = 180


@dataclass(frozen=True)
class Shell:
    """One reflection that nothing drawn explains, as a picture shows it.

    Attributes
    ----------
    name, title, facts, caption : str
        File name without ending; heading; what holds for it; what to see.
    speaker, seat : int
    points : PointSet
    """

    name: str
    title: str
    facts: str
    caption: str
    speaker: int
    seat: int
    points: "PointSet"


def shells_of(held: "Held", heard: "Measurement", name: str, *, units: str) -> tuple[Shell, ...]:
    """The strong peaks of a measurement that nothing drawn explains, by delay.

    Parameters
    ----------
    held, heard : Held, Measurement
    name : str
        Files are called after it and the peak's number.
    units : {"metric", "imperial"}
    """
    whose = f"{held.scene.speakers[heard.take.speaker].name} at {held.scene.seats[heard.take.seat].name}"
    shells = []
    for k, own in enumerate(heard.strong_unexplained):
        points = raytrace.unexplained_points(held, heard, own)
        at = f"{1e3 * own.peak.delay_s:.1f} ms"
        extra = format_length(points.extra_m, units=units, style="m")
        shells.append(
            Shell(
                f"{name}-unexplained-{k + 1}",
                f"Nothing drawn explains {at}",
                f"{whose} · {decibels(own.peak.level_db, 0)} dB, {at} after the direct sound · "
                f"extra path {extra}",
                f"A way from speaker to seat that is {extra} longer than the straight one turns at a point "
                "of this shell: look along the red lines, and for what stands in the air and is not drawn.",
                heard.take.speaker,
                heard.take.seat,
                points,
            )
        )
    return tuple(shells)


def unjudged_study(held: "Held") -> Study:
    """Room and reflections of a measurement as pictures take them, nothing in them judged."""
    return Study(held.scene, held.room, held.arrivals, (), (), None, (), (), (), (), (), ())


def make_shell_picture(stage: Stage, shell: Shell, size: tuple[int, int], *, raster: Raster) -> Picture:
    """Draw the room with the points that a reflection can have come over.

    Parameters
    ----------
    stage : Stage
        From `set_stage`.
    shell : Shell
    size : (width, height)
        In pixels.
    raster : callable
        Draws layers as a camera sees them, `look.OVERSAMPLING` times the camera's size.
    """
    layout = lay_out(size)
    frame = layout.drawing
    camera = choose_camera(stage, _VIEW, (round(frame.right - frame.left), round(frame.bottom - frame.top)))
    plate = Plate(size)
    drawn = (*room_layers(stage, camera), *_shell_layers(stage, shell, camera))
    plate.paste(raster(drawn, camera), (frame.left, frame.top))
    title = stage.study.scene.title
    draw_title(plate, layout, title, shell.title, shell.facts)
    placed = place_labels(
        _labels(stage, shell, camera, frame),
        layout.columns,
        measure=lambda label: measure_label(plate, layout, label),
        gap_px=look.GAP_PX * layout.unit,
    )
    draw_labels(plate, layout, placed)
    draw_signs(plate, layout, ("direct", *(("met",) if shell.points.curves else ()), "air"))
    return Picture(plate.finish(), shell.caption, tuple(plate.boxes), frame)


def _shell_layers(stage: Stage, shell: Shell, camera: Camera) -> list[Layer]:
    """The curves on faces, paler where the face is taken away, and the shell in the air."""
    points, seen = shell.points, seen_facets(stage, camera)
    lines = polylines(shell_on_faces(stage, points))
    is_seen = np.array([seen[curve.facet] for curve in points.curves], bool)
    met = Layer(lines, one_colour(look.ACCENT, lines), radius_m=look.TUBE_M * stage.scale)
    pale = look.tinted(look.ACCENT, _GONE_OPACITY)
    gone = Layer(lines, one_colour(pale, lines), radius_m=look.TUBE_HIGHER_M * stage.scale)
    direct = dashes(
        polylines([np.array([points.source, points.listener])]), dash_m=look.DIRECT_DASH_M * stage.scale
    )
    air = polylines(shell_in_air(stage, points))
    return [
        Layer(air, one_colour(look.HAIRLINE, air), radius_m=look.TUBE_HIGHER_M * stage.scale),
        Layer(direct, one_colour(look.INK, direct), radius_m=look.DIRECT_M * stage.scale),
        gone.only(~is_seen),
        met.only(is_seen),
    ]


def shell_on_faces(stage: Stage, points: "PointSet") -> list[Floats]:
    """Its curves on faces of the room, a little before each. [m]"""
    facets, off_m = stage.study.room.facets, look.RAISE_M * stage.scale
    return [curve.points + off_m * facets[curve.facet].normal for curve in points.curves]


def shell_in_air(stage: Stage, points: "PointSet") -> list[Floats]:
    """Lines round the shell along its axes, where there is air: an upright one, a level one, a waist."""
    angle = np.linspace(0.0, 2.0 * np.pi, _N_AROUND + 1)
    pieces = []
    for first, second in ((0, 1), (0, 2), (1, 2)):
        directions = np.zeros((len(angle), 3))
        directions[:, first], directions[:, second] = np.cos(angle), np.sin(angle)
        line = points.on_shell(directions)
        inside = stage.study.room.contains(line)
        steps = inside[1:] & inside[:-1]
        starts = np.flatnonzero(steps & ~np.append(False, steps[:-1]))
        ends = np.flatnonzero(steps & ~np.append(steps[1:], False))
        pieces += [line[a : b + 2] for a, b in zip(starts.tolist(), ends.tolist(), strict=True)]
    return pieces


def _labels(stage: Stage, shell: Shell, camera: Camera, frame: Box) -> list[Label]:
    """The speaker, the seat, and every surface that the shell cuts, at the middle of its longest piece."""
    study, points = stage.study, shell.points

    def label(name: str, place: Floats, rank: int) -> Label:
        x, y = camera.project(np.asarray(place, np.float64))
        return Label(name, "", look.INK, (float(x + frame.left), float(y + frame.top)), 0.0, rank)

    found = [
        label(speaker_words(study, shell.speaker), points.source, 0),
        label(seat_words(study, shell.seat), points.listener, 0),
    ]
    for surface in points.surfaces:
        own = [curve.points for curve in points.curves if curve.surface == surface]
        longest = max(own, key=len)
        found.append(label(study.room.surfaces[surface].name, longest[len(longest) // 2], 1))
    return found
