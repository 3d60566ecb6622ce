"""Throws cases at hitspot for a stated time: no traceback, no hang, no memory over 1 GB, no stray file.

    python -m tests.fuzz SECONDS [CAMPAIGN ...] [--cases N] [--seed N]

Seconds are for each campaign, which ends sooner after as many cases as are asked for. A line for each: cases,
how they ended, the slowest, the memory. A case that fails is told with its seed, from which it is made again;
exit code 1 if there is any.
"""

import math
import os
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path

from tests.fuzz.campaigns import CAMPAIGNS, written_elsewhere

HANG_S = 10  # of CPU time, which other programs disturb little
MOST_MB = 1024


def hangs(_number, _frame):
    raise TimeoutError(f"longer than {HANG_S} s")


def one(campaign, seed, ground):
    """How one case ended, and the time it took. [s]"""
    folder = ground / "own"
    folder.mkdir(exist_ok=True)
    before = set(ground.rglob("*"))
    began = time.monotonic()
    signal.setitimer(signal.ITIMER_PROF, HANG_S)
    try:
        kind = CAMPAIGNS[campaign](random.Random(f"{campaign} {seed}"), folder)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    stray = written_elsewhere(before, ground, folder)
    assert not stray, f"written where it should not be: {stray}"
    return kind, time.monotonic() - began


def campaign_line(campaign, seconds, seed, cases):
    """Run one campaign and print what came of it; the number of failures."""
    kinds, slowest_s, slow, failed = Counter(), 0.0, seed, []
    with tempfile.TemporaryDirectory() as place:
        ground = Path(place)
        (ground / "work").mkdir()
        os.chdir(ground / "work")
        until = time.monotonic() + seconds
        while time.monotonic() < until and kinds.total() < cases:
            try:
                kind, took_s = one(campaign, seed, ground)
            except Exception as problem:
                kind, took_s = "FAILED", 0.0
                told = traceback.format_exc().splitlines()
                failed.append(
                    f"  seed {seed}: {type(problem).__name__}: {str(problem)[:200]}\n  "
                    + "\n  ".join(told[-7:-1])
                )
            kinds.update(kind if isinstance(kind, Counter) else [kind])
            slowest_s, slow = max((slowest_s, slow), (took_s, seed))
            seed += 1
        os.chdir("/")
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    ends = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    most = f"slowest {slowest_s:.1f} s (seed {slow}); {megabytes:.0f} MB"
    print(f"{campaign:<16}{kinds.total():>7} cases: {ends}; {most}", flush=True)
    for words in failed[:12]:
        print(words, flush=True)
    return len(failed) + (megabytes > MOST_MB)


def main(words):
    given = {name: int(words.pop(words.index(name) + 1)) for name in ("--seed", "--cases") if name in words}
    seed, cases = given.get("--seed", 0), given.get("--cases", math.inf)
    seconds, *names = [word for word in words if word not in given]
    signal.signal(signal.SIGPROF, hangs)
    warnings.simplefilter("error", RuntimeWarning)
    failures = [campaign_line(name, float(seconds), seed, cases) for name in names or CAMPAIGNS]
    return 1 if any(failures) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
