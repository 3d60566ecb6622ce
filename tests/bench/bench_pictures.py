"""What the pictures of a room cost: its light, and one still of print size.

CPU time of all threads, warm. The light is to take under 1 s in the first room.
Run: python -m tests.bench.bench_pictures [SCENE ...]
"""

import sys
import time
from functools import partial

from raytrace import load_scene, run_study
from tests.support.scenes import SCENES
from viewer import look
from viewer.pictures import light_room, see, set_stage
from viewer.pictures.pictures import make_picture

SIZE = look.REFERENCE_SIZE


def cpu_s(work):
    """CPU time of a second run, so that nothing is compiled or loaded in it."""
    work()
    start = time.process_time()
    work()
    return time.process_time() - start


def main(names):
    for name in names:
        stage = set_stage(run_study(load_scene(SCENES / f"{name}.toml"), up_to_order=2))
        lighting = light_room(stage)

        def light(lighting=lighting):
            lighting.__dict__.pop("grids", None)
            return lighting.grids

        raster = partial(see, lighting=lighting)
        still = partial(make_picture, stage, look.VIEWS[0], SIZE, units="metric", raster=raster)
        points = sum(grid.values.size for grid in lighting.grids)
        print(f"{name}: light {cpu_s(light):.2f} s ({points} points), still {cpu_s(still):.2f} s")


if __name__ == "__main__":
    main(sys.argv[1:] or ["box", "ridge", "classroom"])
