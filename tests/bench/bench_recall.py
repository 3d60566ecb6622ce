"""Peaks recalled and false alarms of measured responses under noise, as a table.

python -m tests.bench.bench_recall [DRAWS]

Noise re the top of the direct sound, white up to half the sampling rate. Of the box six pulses are asked for,
of full-wave solutions (where HITSPOT_DATA has them) the peaks above -18 dB up to 10 ms that are told without
noise. A false alarm is a peak with no maximum of the noiseless curve within a pulse's width of it.
"""

import sys
import tempfile
from pathlib import Path

import numpy as np

from raytrace import hold_against, load_scene
from raytrace.measured import Take
from raytrace.verdicts import PEAK_WIDTH_S, curve_maxima
from tests.support.full_waves import WAVES, load_waves
from tests.support.scenes import BOX
from tests.support.soundfiles import first_order_pulses, noisy, wave_response, write_wav

NOISE_DB = (-50.0, -40.0, -30.0)
STRONG_DB = -18.0


def recall(scene, clean, *, draws, folder, strong_until_s, **reach):
    """For each noise: recalled shares of strong peaks (draws,), and false alarms of all draws."""
    one = write_wav(folder / "clean.wav", clean)
    takes = [Take(0, 0, one)]
    for noise_db in NOISE_DB:
        for k in range(draws):
            path = folder / f"{noise_db:.0f}-{k}.wav"
            takes.append(Take(0, 0, write_wav(path, noisy(clean, noise_db, seed=k))))
    first, *rest = hold_against(scene, takes, **reach).heard
    _, column, _ = curve_maxima(first.curves.level_db[None], -60.0)
    step_s = first.curves.time_s[1] - first.curves.time_s[0]
    maxima_s = column * step_s + first.curves.time_s[0]
    strong = {
        own.made_by
        for own in first.peaks
        if own.peak.level_db > STRONG_DB and own.peak.delay_s < strong_until_s
    }
    for start, noise_db in zip(range(0, len(rest), draws), NOISE_DB, strict=True):
        heard = rest[start : start + draws]
        shares = [len(strong & {own.made_by for own in one.peaks}) / len(strong) for one in heard]
        off_s = [np.abs(maxima_s - own.peak.delay_s).min() for one in heard for own in one.peaks]
        yield noise_db, len(strong), shares, int(np.count_nonzero(np.array(off_s) > PEAK_WIDTH_S))


def main(draws: int = 40) -> None:
    """Print a row for each room and noise."""
    print("| response | peaks | noise dB | recalled: mean, worst draw | false alarms a record |")
    print("| --- | --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "box.toml").write_text(BOX, encoding="utf-8")
        box = load_scene(folder / "box.toml")
        rooms = [
            (
                "six pulses",
                box,
                first_order_pulses(),
                {"up_to_order": 1, "within_s": 0.015, "strong_until_s": 0.011},
            )
        ]
        for wave in ("bare", "desk", "treated"):
            if (WAVES / f"{wave}.npz").is_file():
                clean = wave_response(load_waves(wave), 0)
                reach = {"up_to_order": 6, "within_s": 0.011, "strong_until_s": 0.010}
                rooms.append((f"full-wave, {wave}", load_scene(WAVES / f"{wave}.toml"), clean, reach))
        for label, scene, clean, reach in rooms:
            for noise_db, n, shares, n_false in recall(scene, clean, draws=draws, folder=folder, **reach):
                shown = f"{100 * np.mean(shares):.0f} %, {100 * min(shares):.0f} %"
                print(f"| {label} | {n} | {noise_db:.0f} | {shown} | {n_false / draws:.2f} |")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
