"""What materials look like: a quiet colour and a pattern for each. Data, not code."""

from raytrace import Pattern
from viewer import look

Finish = tuple[str, Pattern]

_PAINT: Finish = (look.WALL, Pattern.PLASTER)
_PAINTED_BLOCKS: Finish = (look.WALL, Pattern.BLOCKS)
_TIMBER: Finish = ("#E2CEAD", Pattern.GRAIN)
_BOARDS: Finish = ("#DFCDB2", Pattern.BOARDS)
_GLASS: Finish = (look.PANE, Pattern.GLASS)
_DOOR: Finish = ("#E6DCCB", Pattern.GRAIN)
_METAL: Finish = ("#CDD1D4", Pattern.PLAIN)
_CARPET: Finish = ("#CBC4BA", Pattern.CLOTH)
_RUG: Finish = ("#B9A797", Pattern.CLOTH)
_CURTAIN: Finish = ("#C9BBB0", Pattern.CLOTH)
_UPHOLSTERY: Finish = ("#B7ABA0", Pattern.CLOTH)
_WOOL: Finish = ("#CFC59F", Pattern.CLOTH)

# Names of raytrace/acoustics/materials.toml; another has the colour of its part and no pattern.
FINISHES: dict[str, Finish] = {
    **dict.fromkeys(
        (
            "plasterboard",
            "plasterboard, empty cavity",
            "plasterboard, filled cavity",
            "plasterboard on battens with wool",
            "plasterboard ceiling",
            "plaster on lath",
            "plaster",
        ),
        _PAINT,
    ),
    **dict.fromkeys(("thin plywood", "wood panel", "OSB", "wood", "furniture", "bookshelf"), _TIMBER),
    **dict.fromkeys(("timber floor", "parquet", "laminate floor"), _BOARDS),
    **dict.fromkeys(("window", "glass 4 mm", "glass 6 mm", "plate glass", "double glazing"), _GLASS),
    **dict.fromkeys(("wood door", "hollow door"), _DOOR),
    **dict.fromkeys(("steel door", "sheet metal", "steel"), _METAL),
    **dict.fromkeys(("carpet", "carpet on underlay", "thin carpet", "loop-pile carpet"), _CARPET),
    **dict.fromkeys(("rug", "rug on underlay", "felt pad"), _RUG),
    **dict.fromkeys(("light curtain", "curtain", "heavy curtain"), _CURTAIN),
    **dict.fromkeys(("sofa", "bed"), _UPHOLSTERY),
    **dict.fromkeys(("glass-fibre mat 25 mm", "mineral wool 50 mm", "mineral wool 100 mm"), _WOOL),
    **dict.fromkeys(("painted brick", "painted block", "ceiling tile"), _PAINTED_BLOCKS),
    "brick": ("#D8B49F", Pattern.BLOCKS),
    "block": ("#D3D0C9", Pattern.BLOCKS),
    "concrete": ("#D3D2CE", Pattern.PLASTER),
    "painted concrete": ("#DAD8D3", Pattern.PLASTER),
    "stone": ("#D2CCC2", Pattern.BLOCKS),
    "tiles": ("#E4E3DF", Pattern.BLOCKS),
    "vinyl floor": ("#D9D4CA", Pattern.PLASTER),
    "foam 30 mm": ("#8F9196", Pattern.CLOTH),
}
