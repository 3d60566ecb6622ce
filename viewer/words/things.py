"""What the things of a room are called: speakers, seats, panels, and what a path meets on its way."""

from collections.abc import Iterable
from typing import NamedTuple

from raytrace import Arrivals, PlacedPanel, Study, orientation
from viewer.words.figures import listed


class Met(NamedTuple):
    """What a path meets at one bounce: surface, opening in the scene and panel in the room, -1 for none."""

    surface: int
    opening: int = -1
    panel: int = -1

    @property
    def beneath(self) -> "Met":
        """The same place without the panel over it."""
        return Met(self.surface, self.opening)


def things_met(arrivals: Arrivals, row: int) -> tuple[Met, ...]:
    """What a reflection meets, bounce by bounce from the speaker to the seat."""
    of_bounce = zip(
        arrivals.path_surfaces[row].tolist(),
        arrivals.path_openings[row].tolist(),
        arrivals.path_panels[row].tolist(),
        strict=True,
    )
    return tuple(Met(*ids) for ids in of_bounce if ids[0] >= 0)


def met_words(study: Study, met: Met) -> str:
    """What a client would call the thing a path meets: "left panel", "door", "desk top", "ceiling"."""
    if met.panel >= 0:
        return panel_group_words(study.room.panels[met.panel])
    if met.opening >= 0:
        return study.scene.openings[met.opening].name
    surface = study.room.surfaces[met.surface]
    if surface.owner is None or orientation(surface.frame.n).is_level:
        return surface.name
    return surface.owner


def surface_words(study: Study, row: int) -> list[str]:
    """What a client would call the things a reflection meets bounce by bounce, panels left out."""
    return [met_words(study, met.beneath) for met in things_met(study.arrivals, row)]


def met_names(study: Study, arrivals: Arrivals, row: int) -> list[str]:
    """What a reflection meets bounce by bounce, panel or opening in brackets: "ceiling (cloud)"."""
    names = []
    for met in things_met(arrivals, row):
        surface, on_it = study.room.surfaces[met.surface], ""
        if met.panel >= 0 and surface.owner != study.room.panels[met.panel].group:
            on_it = study.room.panels[met.panel].group
        elif met.opening >= 0:
            on_it = study.scene.openings[met.opening].name
        names.append(f"{surface.name} ({on_it})" if on_it else surface.name)
    return names


def joined_way(names: Iterable[str]) -> str:
    """What a reflection meets, bounce by bounce, as all outputs join it: "left wall › ceiling"."""
    return " › ".join(names)


def path_words(study: Study, row: int) -> str:
    """The surfaces a reflection takes from speaker to seat: "left wall › ceiling"."""
    return joined_way(met_names(study, study.arrivals, row))


def path_phrase(study: Study, row: int) -> str:
    """The things a reflection meets, as a sentence has them, no surface beneath a panel named."""
    return joined_way(met_words(study, met) for met in things_met(study.arrivals, row))


def path_text(study: Study, row: int) -> str:
    """The things a reflection meets, panels in brackets behind what they hang on: "left wall › ceiling"."""
    names = []
    for met in things_met(study.arrivals, row):
        name, own = met_words(study, met.beneath), study.room.panels[met.panel] if met.panel >= 0 else None
        on_surface = own is not None and own.acts_as == "patch"
        names.append(f"{name} ({met_words(study, met)})" if on_surface else name)
    return joined_way(names)


def seat_words(study: Study, seat: int) -> str:
    """What a client would call a seat: "sofa", but "sofa seat" where the sofa itself is in the scene too."""
    name = study.scene.seats[seat].name
    is_plain = "seat" in name.lower() or ("sofa" in name.lower() and not _is_object(study, name))
    return _apart(study, name if is_plain else f"{name} seat", "the listener")


def speaker_words(study: Study, speaker: int) -> str:
    """What a client would call a speaker."""
    name = study.scene.speakers[speaker].name
    return _apart(study, name if _says_itself(study, speaker) else f"{name} speaker", "what plays")


def speakers_words(study: Study, speakers: Iterable[int]) -> str:
    """Speakers as a sentence has them: "left and right speaker"."""
    *others, last = dict.fromkeys(speakers)
    short = () if _says_itself(study, last) else [k for k in others if not _says_itself(study, k)]
    names = [study.scene.speakers[k].name if k in short else speaker_words(study, k) for k in others]
    return listed([*names, speaker_words(study, last)])


def _says_itself(study: Study, speaker: int) -> bool:
    """Whether the name of a speaker needs no "speaker" behind it."""
    entry = study.scene.speakers[speaker]
    return entry.use == "sub" or "speaker" in entry.name.lower()


def _is_object(study: Study, name: str) -> bool:
    return any(entry.name == name for entry in study.scene.objects)


def _apart(study: Study, words: str, which: str) -> str:
    """The same words, or the words and which of the two is meant where an object is called so."""
    return f"{words} ({which})" if _is_object(study, words) else words


def panel_group_words(panel: PlacedPanel) -> str:
    """What a client would call panels that belong together: "left panel", where the scene says "left"."""
    return _panel_words(panel, panel.group)


def panel_name_words(panel: PlacedPanel) -> str:
    """The same of a single panel."""
    return _panel_words(panel, panel.name)


def _panel_words(panel: PlacedPanel, name: str) -> str:
    plain = panel.kind == "cloud" or "panel" in name.lower()
    return name if plain else f"{name} panel"


def both_words(one: str, other: str) -> str:
    """Two names as one: "left and right speaker"."""
    first, _, kind = one.rpartition(" ")
    return f"{first} and {other}" if first and other.endswith(f" {kind}") else f"{one}, {other}"
