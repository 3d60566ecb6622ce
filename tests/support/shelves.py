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
below_db = 10
within_ms = 6
from_hz = 1000
to_hz = 8000
"""
SHELF_RUN = {"up_to_order": 1, "within_s": 0.006}
"""Enough for it: one bounce, the window of its limit."""
