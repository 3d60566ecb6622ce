"""A soft room with one hard shelf between speakers and seat: nothing else in it is over the limit."""

SHELF = """title = "Shelf"  # kept to the last byte

[room]
shape = "box"
length = 5.0
width = "4000 mm"
height = 2.6

[surfaces]
default = "mineral wool 100 mm"

# The shelf between the speakers.
[[objects]]
name = "shelf"
shape = "box"
centre = [1.15, "2000 mm", 0.80]   # its middle
size = [0.30, 1.60, 0.03]
material = "wood"

[[speakers]]
name = "left"
position = [1.00, 1.45, 0.95]

[[speakers]]
name = "right"
position = [1.00, 2.55, "950 mm"]

[[seats]]
name = "mix"
ears = [2.20, 2.00, 1.20]

[limits]
below_db = 10.5
within_ms = 6
from_hz = 1000
to_hz = 8000
"""
SHELF_RUN = {"up_to_order": 1, "within_s": 0.006}
"""Enough for it: one bounce, the window of its limit."""

HARD_FLOOR = (
    SHELF[: SHELF.index("# The shelf")].replace(
        '"mineral wool 100 mm"', '"mineral wool 100 mm"\nfloor = "laminate floor"'
    )
    + SHELF[SHELF.index("[[speakers]]") :]
).replace("below_db = 10.5\nwithin_ms = 6", "below_db = 10\nwithin_ms = 10")
"""The same room with a hard floor in place of the shelf."""

WINDOW = (
    HARD_FLOOR.replace('\nfloor = "laminate floor"', "").replace(
        "[[speakers]]",
        """[[openings]]
name = "window"
surface = "left wall"   # where the left speaker's sound comes back
kind = "window"
at = [0.2, 0.1]
size = [4.6, 2.4]
material = "double glazing"

[[speakers]]""",
        1,
    )
).replace("below_db = 10", "below_db = 18")
"""The same room with a pane on one side."""
HARD_RUN = {"up_to_order": 1, "within_s": 0.010}
