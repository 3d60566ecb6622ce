"""Time and memory of `clean` on scans of the irregular room, from 17 000 to 200 000 triangles.

Opponent: none; the aim is 10 s for 18 000 and 30 s for 200 000 triangles. CPU time, the compiling kept apart.
"""

import resource
import tempfile
import time
from pathlib import Path

from raytrace import clean_scan
from tests.support.scans import Rough, obj_text, room_11, scan_of


def main() -> None:
    """Print a line for each size."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "room.obj"
        for edge in (0.2, 0.2, 0.06):  # the first compiles and warms up
            points, triangles = scan_of(room_11(), Rough(edge=edge))
            path.write_text(obj_text(points, triangles))
            start = time.process_time()
            room = clean_scan(path)
            taken = time.process_time() - start
            peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{len(triangles)} triangles: {taken:.1f} s, {peak_mb:.0f} MB, {len(room.surfaces)} surfaces"
            )


if __name__ == "__main__":
    main()
