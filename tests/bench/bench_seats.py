"""Places for a seat: the whole command on room 1 with about 200 places, and what two processes bring.

.venv/bin/python -m tests.bench.bench_seats
"""

import time

from raytrace import Hands, SeatWish, all_cores, find_seats, load_scene
from tests.support.scenes import SCENES

LEAST_PLACES = 200
MOST_S = 60.0


def main() -> None:
    scene = load_scene(SCENES / "box.toml")
    for hands in (all_cores(), Hands(1)):
        start, cpu = time.perf_counter(), time.process_time()
        found = find_seats(scene, SeatWish(step_m=STEP_M), hands=hands)
        took_s, own_s = time.perf_counter() - start, time.process_time() - cpu
        n_tried = len(found.best) + len(found.others) + len(found.refused)
        assert n_tried >= LEAST_PLACES, n_tried
        print(
            f"{hands.processes} processes: {n_tried} places in {took_s:.1f} s, goal {MOST_S:.0f} s; ", end=""
        )
        print(f"CPU of this process alone {own_s:.1f} s")


STEP_M = 0.055

if __name__ == "__main__":
    main()
