"""The whole run as one call: a scene in, everything that report, pictures and sheets show out."""

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from raytrace.facts import Amount, Sentence, Unit, joined, millimetres, sentence
from raytrace.reflections import (
    PATCH_MEAN_ERROR_DB,
    PATCH_WORST_ERROR_DB,
    WAVE_CHECKS,
    Arrivals,
    Curve,
    EarlyResponse,
    Progress,
    Reach,
    early_responses,
    energy_time_curves,
    find_arrivals,
    is_judged,
    speaker_directivity,
)
from raytrace.room import Room, build_room, facing_note
from raytrace.scene import DirectivityFile, Scene
from raytrace.study.anglemodels import angle_model_note
from raytrace.study.placements import place_notes
from raytrace.verdicts import (
    Flutter,
    LeftRight,
    Peak,
    TreatmentArea,
    Verdict,
    compare_left_right,
    find_flutter,
    find_peaks,
    find_treatment_areas,
    judge,
    proportion_note,
    size_note,
)

LOCAL_CODES_FIRST = "Local codes and licensed practice come first."


class Caution(StrEnum):
    """The usual cautions of the trade, shown beside everything that is to be made or hung."""

    CODES = (
        LOCAL_CODES_FIRST + " Fixings, structure, fire and electrical matters must be checked by a competent "
        "person against the building's own rules before anything is hung. Nothing here is an approval."
    )
    OVERHEAD = (
        "Overhead loads: fix to structure, never to plasterboard alone or with glue; add an independent "
        "secondary support; have it checked by a competent person."
    )
    FIBRES = (
        "Fibres: wear a mask (EN 149 FFP2 or N95) and gloves, and goggles when working above the shoulder; "
        "wrap all faces of the wool."
    )
    FIRE = (
        "Fire: ask for the reaction-to-fire class of the assembled panel, cloth and frame included; keep "
        "away from heaters and lamps."
    )
    STANDS = (
        "Stands and leaning panels: nobody climbs or swings on them, children are kept off, cables lie where "
        "nobody pulls or trips on them, doors and ways out stay clear of feet."
    )
    SOFT = (
        "Rugs, curtains and pads: lay and hang them so that nobody slips or trips and nothing slides off; "
        "keep them off heaters and off the vents of equipment."
    )
    COVER = "Never cover detectors, sprinklers, escape windows or vents."
    COATINGS = (
        "Textured ceiling coatings from before 2000 may hold asbestos: have them tested before drilling, "
        "scraping or sanding."
    )
    CABLES = "Look for cables and pipes before drilling, and switch off the circuits concerned."
    LADDERS = "Ladders: work in pairs; lift and hold loads overhead with two persons."
    DAMP = "Damp: leave air behind panels on outside walls and look behind them in the first winter."
    RENTED = "Rented rooms: ask the owner before drilling or gluing."


CAUTIONS = tuple(Caution)


@dataclass(frozen=True)
class Study:
    """Everything found out about one scene.

    Attributes
    ----------
    scene, room : Scene, Room
        What was read and built.
    arrivals : Arrivals
        Every reflection at the seats.
    peaks, verdicts : tuple
        What a measurement would show, and what the standard says of it.
    left_right : LeftRight or None
        Left against right at the first seat.
    flutter : tuple of Flutter
        Bare parallel surfaces.
    treatment_areas : tuple of TreatmentArea
        Areas to cover, strongest first.
    curves : tuple of Curve
        Energy-time curves per speaker and seat.
    responses : tuple of EarlyResponse
        The combs that early reflections draw, per speaker and seat.
    room_notes, method_notes : tuple of Sentence
        What is to be known about this room; how the figures are made and how far they may be trusted.
    cautions : tuple of Caution
        What stands beside everything that can hurt someone.
    """

    scene: Scene
    room: Room
    arrivals: Arrivals
    peaks: tuple[Peak, ...]
    verdicts: tuple[Verdict, ...]
    left_right: LeftRight | None
    flutter: tuple[Flutter, ...]
    treatment_areas: tuple[TreatmentArea, ...]
    curves: tuple[Curve, ...]
    responses: tuple[EarlyResponse, ...]
    room_notes: tuple[Sentence, ...]
    method_notes: tuple[Sentence, ...]
    cautions: tuple[Caution, ...] = CAUTIONS

    @property
    def notes(self) -> tuple[Sentence, ...]:
        """Both, those about this room first."""
        return (*self.room_notes, *self.method_notes)


def run_study(
    scene: Scene, *, up_to_order: int | None = None, within_s: float = 0.030, progress: Progress | None = None
) -> Study:
    """Find, judge and lay out every early reflection of a scene.

    Parameters
    ----------
    scene : Scene
        From `load_scene`.
    up_to_order : int, optional
        Largest number of bounces, 1 or more. Without it 4, and in the limit's window as many more as it
        takes to miss none there.
    within_s : float
        Latest arrival after the direct sound. [s]
    progress : callable, optional
        Called with a text and the share done (0 to 1).

    Returns
    -------
    Study
        Frozen; the same scene gives the same study.

    Raises
    ------
    SceneError
        If the scene's geometry does not hold together.
    """
    room = build_room(scene)
    arrivals = find_arrivals(scene, room, up_to_order=up_to_order, within_s=within_s, progress=progress)
    peaks = find_peaks(scene, arrivals)
    return Study(
        scene=scene,
        room=room,
        arrivals=arrivals,
        peaks=peaks,
        verdicts=judge(scene, arrivals, peaks),
        left_right=compare_left_right(scene, arrivals),
        flutter=find_flutter(room),
        treatment_areas=find_treatment_areas(
            room, arrivals, limit_db=scene.limits.level_db, within_s=scene.limits.within_s
        ),
        curves=energy_time_curves(scene, arrivals, until_s=within_s),
        responses=early_responses(arrivals),
        room_notes=_room_notes(scene, room, arrivals),
        method_notes=_method_notes(scene, room, arrivals, peaks),
    )


def _room_notes(scene: Scene, room: Room, arrivals: Arrivals) -> tuple[Sentence, ...]:
    """What is odd about this room, outside a limit's range or not judged."""
    notes = [*place_notes(scene, room), *_hidden_notes(scene, arrivals)]
    notes += [
        sentence(
            '{speaker} is judged like a main speaker; if it is a subwoofer, give it use = "sub".',
            speaker=speaker.name,
        )
        for speaker in scene.speakers
        if "sub" in speaker.name.lower() and speaker.use == "main"
    ]
    notes += [note for note in (size_note(room, scene), proportion_note(scene)) if note]
    reach = arrivals.reach
    short = [_reach_note(reach)] if reach.complete_to_s < reach.early_s else []
    return (*notes, *_directivity_notes(scene, room), *room.notes, *short)


def _method_notes(
    scene: Scene, room: Room, arrivals: Arrivals, peaks: tuple[Peak, ...]
) -> tuple[Sentence, ...]:
    """Limits of validity and what was left out."""
    reach = arrivals.reach
    return (
        *([_reach_note(reach)] if reach.complete_to_s >= reach.early_s else []),
        sentence(
            "Objects, openings and free edges reflect with their finite size (Kirchhoff's integral). Where "
            "the shorter side is under half a wavelength the figure is indicative. Sound that passes an "
            "object's edge, direct or reflected, keeps what the same integral leaves of it. Where a spot is "
            "just beyond an edge, or an object just cuts into the way, what is left of the reflection (a "
            "near miss) counts like any other; sound bent farther round an edge is not counted."
        ),
        sentence(
            "What a patch of finite size reflects, on a wall or before it, was held against a wave solution "
            "(two dimensions, wool {wool} thick, octaves 250 to 1000 Hz): "
            f"{PATCH_MEAN_ERROR_DB} dB apart in the mean, {PATCH_WORST_ERROR_DB} dB at worst.",
            wool=millimetres(0.030, 0.100, between=" to "),
        ),
        _waves_note(),
        angle_model_note(scene, room, arrivals, peaks),
        *_panel_notes(room),
    )


def _hidden_notes(scene: Scene, arrivals: Arrivals) -> list[Sentence]:
    """Which speakers are not judged at which seats, and what is in their way."""
    direct, notes = arrivals.direct, []
    for k, ears in enumerate(arrivals.at_ears):
        if scene.speakers[ears.speaker].use == "main" and not is_judged(scene, ears):
            part = ", {loss} dB less of the direct sound" if isfinite(direct.level_db[k]) else ""
            notes.append(
                sentence(
                    f"{{speaker}} at {{seat}}: hidden by {{thing}}{part}: no verdict is passed.",
                    speaker=arrivals.speaker_names[ears.speaker],
                    seat=arrivals.seat_names[ears.seat],
                    thing=direct.hidden_by[k] or "what stands beside it",
                    loss=f"{-direct.level_db[k]:.0f}",
                )
            )
    return notes


def _waves_note() -> Sentence:
    """How near the levels of peaks come to full-wave solutions of a whole room."""
    bare, desk, treated, furnished = (
        f"{check.median_db} and {check.nine_in_ten_db} dB" for check in WAVE_CHECKS.values()
    )
    return sentence(
        "Peaks between 1 and 8 kHz were held against full-wave solutions of a rigid room of {size}, up to "
        "10 ms after the direct sound. Apart in the median, and nine in ten within: "
        f"{bare} in the bare room, {desk} with a desk, {treated} with wool on two walls and a cloud, "
        f"{furnished} with all these, loudspeakers and a screen. That tells how well reflections are summed, "
        "not what materials absorb.",
        size=Amount((4.2, 3.0, 2.4), Unit.M, 1),
    )


def _directivity_notes(scene: Scene, room: Room) -> list[Sentence]:
    """Where a measured directivity ends."""
    ends = [
        (speaker, speaker_directivity(scene, speaker, room).held_from_deg)
        for speaker in scene.speakers
        if isinstance(speaker.directivity, DirectivityFile) and speaker.use == "main"
    ]
    return [
        sentence(
            "{speaker}: its directivity is measured up to {angle} degrees off the axis; farther off, the "
            "last level is taken.",
            speaker=speaker.name,
            angle=f"{held_from_deg:g}",
        )
        for speaker, held_from_deg in ends
        if held_from_deg < 180.0
    ]


def _reach_note(reach: Reach) -> Sentence:
    """Up to when no reflection is missing."""
    bounces = f"at most {reach.early_order} bounces"
    if reach.early_order > reach.up_to_order:
        bounces += f" up to {1e3 * reach.early_s:g} ms, {reach.up_to_order} beyond"
    covered = reach.complete_to_s >= reach.early_s
    return sentence(
        "Reflections are complete up to {complete} ms after the direct sound ({bounces}); later ones may be "
        "missing."
        + ("" if covered else " That is short of the limit's window: a higher --order reaches farther."),
        complete=f"{reach.complete_to_s * 1e3:.1f}",
        bounces=bounces,
    )


def _panel_notes(room: Room) -> list[Sentence]:
    """What was taken of the panels, where there are any."""
    if not room.panels:
        return []
    side_m = min(min(panel.width_m, panel.height_m) for panel in room.panels)
    half_wave_hz = room.speed_of_sound_m_s / (2.0 * side_m)
    notes = [
        sentence(
            "Panels: wool by Miki's model with what lies behind it, at each path's own angle, with its "
            "finite size. Single octaves may ripple by some dB from place to place; what is judged is the "
            "mean over the limit's band. Below {half_wave} Hz the smallest panel is under half a "
            "wavelength: indicative.",
            half_wave=f"{half_wave_hz:.0f}",
        )
    ]
    if room.free_groups:
        free = (
            "Panels that hang or stand free reflect on both faces and let sound pass. In the decay they "
            "stand in the way and return all that they do not absorb."
        )
        notes.append(sentence(free))
    builds = {panel.build_name: panel.build for panel in room.panels}
    facings: dict[Sentence, list[str]] = {}
    for name, build in builds.items():
        facings.setdefault(facing_note(build), []).append(name)
    return notes + [joined(": ", (", ".join(names), note)) for note, names in facings.items()]
