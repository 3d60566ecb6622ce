"""Where scenes and measured data lie, and the texts of scenes that many tests begin with."""

import os
from pathlib import Path

ROOT = Path(__file__).parents[2]
SCENES = ROOT / "scenes"
DATA = Path(os.environ.get("HITSPOT_DATA", ROOT.parent / "shared" / "data"))

BOX = """
title = "test room"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.6
[surfaces]
default = "hard"
[materials.hard]
absorption = [0, 0, 0, 0, 0, 0, 0, 0]
scattering = 0
source = "invented for the test"
[[speakers]]
name = "left"
position = [1.0, 1.3, 1.2]
directivity = "omni"
[[seats]]
name = "mix"
ears = [3.2, 2.0, 1.2]
"""

# With the head off the middle the right wall, below the limit by itself, arrives together with left wall
# then ceiling: only the two together are over it.
BEDROOM = """
title = "bedroom"
[room]
shape = "box"
length = 4.6
width = 3.4
height = 2.45
[surfaces]
default = "plasterboard"
[[speakers]]
name = "left"
position = [0.57, 1.02, 1.2]
directivity = "two-way"
[[seats]]
name = "mix"
ears = [1.75, 1.7, 1.2]
"""

HARD_WALLS = """
title = "test room"
[room]
shape = "box"
length = 4.2
width = 3.0
height = 2.4
[surfaces]
default = "plasterboard"
floor = "deep"
[materials.deep]
absorption = [0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]
source = "invented for the test"
[[speakers]]
name = "left"
position = [0.75, 0.9, 1.2]
[[seats]]
name = "mix"
ears = [1.79, 1.5, 1.1]
zone = [0.05, 0.05, 0.02]
[limits]
below_db = 15
within_ms = 12
from_hz = 1000
to_hz = 8000
"""
