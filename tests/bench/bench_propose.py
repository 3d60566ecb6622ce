"""How long a proposal takes for each room, in seconds: `python -m tests.bench.bench_propose [plain] [names]`.

Panels alone; with `plain` before the names covers and other arrangements too. `classroom/mix/sofa` is the
room of that name for these seats.

CPU time of the process beside the time on the clock: on a machine that does nothing else the aim is 20 s.
The opponent is one whole run of the same room, in the same process: a search that proved every set of panels
it tries by such a run could try no more than the ratio says.
"""

import sys
import time
from pathlib import Path

from raytrace import PanelWish, load_scene, propose, run_study

SCENES = Path(__file__).parents[2] / "scenes"
ROOMS = ("box", "garage", "ridge", "half-slope", "elbow", "beams", "classroom/mix/sofa", "rented")


def main() -> None:
    propose(
        load_scene(SCENES / "ridge.toml"), PanelWish(panels_only=True), out=SCENES / "x.toml"
    )  # loads kernels
    print(
        f"{'room':20s} {'CPU s':>7s} {'clock s':>8s} {'runs':>6s} {'panels':>7s} {'over':>9s}  "
        "one bounce, several [dB]"
    )
    plain = sys.argv[1:2] == ["plain"]
    for given in sys.argv[2 if plain else 1 :] or ROOMS:
        name, *seats = given.split("/")
        cpu, clock = time.process_time(), time.perf_counter()
        scene = load_scene(SCENES / f"{name}.toml")
        wish = PanelWish(panels_only=not plain, seats=tuple(seats))
        found = propose(scene, wish, out=SCENES / "x.toml")
        cpu, clock = time.process_time() - cpu, time.perf_counter() - clock
        one_run = time.process_time()
        run_study(load_scene(SCENES / f"{name}.toml"))
        one_run = time.process_time() - one_run
        over = [sum(v.n_over for v in study.verdicts) for study in (found.before, found.after)]
        print(
            f"{given:20s} {cpu:7.1f} {clock:8.1f} {cpu / one_run:6.1f} {len(found.panels):7d} "
            f"{over[0]:4d} > {over[1]:2d}  {found.agreement_db[0]:.2f}, {found.agreement_db[1]:.2f}"
        )


if __name__ == "__main__":
    main()
