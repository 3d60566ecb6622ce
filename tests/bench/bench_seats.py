"""Places for a seat in room 1: some 200 of them on all cores, in wall time and in CPU time of all processes.

.venv/bin/python -m tests.bench.bench_seats
"""

import resource
import time

from raytrace import SeatWish, all_cores, find_seats, load_scene
from tests.support.scenes import SCENES

GOAL_S = 60.0
LEAST_PLACES = 200
STEP_M = 0.09  # leaves somewhat more than those in this room


def main():
    scene = load_scene(SCENES / "box.toml")
    start = time.perf_counter()
    found = find_seats(scene, SeatWish(step_m=STEP_M), hands=all_cores())
    took_s = time.perf_counter() - start
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    own_s, theirs_s = (usage.ru_utime + usage.ru_stime for usage in used)
    n_places = len(found.best) + len(found.others) + len(found.refused)
    assert n_places >= LEAST_PLACES, n_places
    print(f"{n_places} places on {all_cores().processes} processes: {took_s:.1f} s, goal {GOAL_S:.0f} s")
    print(f"CPU: {own_s:.1f} s here, {theirs_s:.1f} s in the processes, with imports")


if __name__ == "__main__":
    main()
