"""Other arrangements of desk, speakers and seat as others read them: JSON, tables for the terminal."""

from rich.table import Table
from rich.text import Text

from raytrace import Proposal, Study, Variant, Variants
from viewer.tables.arrivals import Row, number
from viewer.tables.grid import grid
from viewer.words import (
    ARRANGEMENTS_EXPLAINED,
    VARIANT_HEAD,
    arrangement_title,
    bounds_words,
    none_mends,
    variant_cells,
    variant_words,
)


def variants_json(study: Study, found: Variants) -> Row:
    """What moving things would do for one peak, as plain numbers; lengths in metres, tilts in degrees.

    Parameters
    ----------
    study : Study
        In which the peak stays.
    found : Variants
    """
    scene, target = study.scene, found.target
    return {
        "seat": scene.seats[target.seat].name,
        "speakers": [scene.speakers[k].name for k in target.speakers],
        "by_way_of": list(target.way),
        "margin_db": number(found.margin_db),
        "bounds": [
            {
                "change": own.freedom.value,
                "of": list(own.things),
                "now": number(own.now),
                "from": number(own.low),
                "to": number(own.high),
            }
            for own in found.ranges
        ],
        "mending": [variant_json(variant) for variant in found.mending],
        "nearest": None if found.nearest is None else variant_json(found.nearest),
    }


def variant_json(variant: Variant) -> Row:
    """One arrangement, and what the full run says of it."""
    return {
        "changes": [
            {
                "change": change.range.freedom.value,
                "of": list(change.range.things),
                "now": number(change.range.now),
                "then": number(change.value),
            }
            for change in variant.changes
        ],
        "settings": [
            {
                "key": [part if isinstance(part, str) else int(part) for part in setting.key],
                "value": setting.value if isinstance(setting.value, float) else list(setting.value),
            }
            for setting in variant.settings
        ],
        "margin_db": number(variant.margin_db),
        "verdict": variant.verdict,
        "peaks_over_limit": list(variant.n_over),
        "peaks_undecided": list(variant.n_undecided),
        "new": [
            {
                "speaker": peak.speaker,
                "seat": peak.seat,
                "by_way_of": list(peak.way),
                "margin_db": number(peak.margin_db),
            }
            for peak in variant.new
        ],
        "left_right_db": [number(value) for value in variant.left_right_db],
    }


def moved_lines(proposal: Proposal, units: str) -> list[str]:
    """What stands another way in the proposed scene, a sentence each."""
    return [f"Moved in the new scene: {variant_words(variant, units)}." for variant in proposal.moved]


def variant_tables(proposal: Proposal, units: str) -> list[Table | Text]:
    """What moving things would do, peak by peak.

    Parameters
    ----------
    proposal : Proposal
    units : {"metric", "imperial"}
    """
    parts: list[Table | Text] = []
    scene = proposal.after.scene
    speakers = [speaker.name for speaker in scene.speakers]
    for found in proposal.variants:
        title = arrangement_title(found, speakers, scene.seats[found.target.seat].name)
        if found.mending:
            table = grid(VARIANT_HEAD, numbers=("then",), title=title)
            for variant in found.mending:
                table.add_row(*variant_cells(variant, units))
            parts += [Text(""), table]
        else:
            parts += [Text(""), Text(title), Text(none_mends(found, units) or "")]
        parts.append(Text(bounds_words(found, units), style="dim"))
    if any(found.mending for found in proposal.variants):
        parts.append(Text(ARRANGEMENTS_EXPLAINED, style="dim"))
        parts.append(
            Text("--moves desk,speakers,seat writes the best of them into the new scene.", style="dim")
        )
    return parts
