"""Full-wave solutions of whole rooms, and what the summed paths of the same rooms come to beside them.

The solutions are pressures at nine places, the ears and the corners of the head zone, over the first
milliseconds: see the README beside the files. They hold from 1 to 8 kHz up to 10 ms after the direct sound.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from raytrace import build_room, load_scene
from raytrace.reflections import PointArrivals, decibels, find_arrivals, transfer
from raytrace.reflections.paths import first_rows
from raytrace.scene import TwoWay
from tests.support.scenes import DATA

WAVES = DATA / "waves"
BAND_HZ = (1000.0, 8000.0)
SOLVED_HZ = (300.0, 11500.0)
UNTIL_S = 0.010  # at 8 kHz the solution's sound is 0.4 % slow along the axes: later peaks drift
FOUND_UNTIL_S = 0.015  # what meets panels before a wall arrives earlier than its path to the wall
HALF_WINDOW_S = 0.25e-3
DIRECT_S = 0.3e-3  # the direct sound has died away in the band
WEAKEST_DB = -25.0
# What the solution with loudspeakers has for a source is as good as a point in the face of one.
POINT_IN_A_FACE = TwoWay(radius=0.01, tweeter_radius=0.01)


@dataclass(frozen=True)
class Waves:
    """One solution, with the pressure (n_steps, 9) at its receivers (9, 3) after a click at its source."""

    dt: float
    click: np.ndarray
    pressure: np.ndarray
    source: np.ndarray
    receivers: np.ndarray
    cell: float
    speed: float

    @property
    def n(self):
        """Length of the transforms: what wraps round falls behind the record."""
        return 1 << int(np.ceil(np.log2(4 * len(self.pressure))))

    @property
    def frequency_hz(self):
        """Lines of the transforms, (n // 2 + 1,)."""
        return np.fft.rfftfreq(self.n, self.dt)

    def transfer(self):
        """Pressure re the free-field direct sound of a point (a closed form), (n_frequencies, 9)."""
        f = self.frequency_hz
        w = 2.0 * np.pi * f[:, None]
        far_m = np.linalg.norm(self.receivers - self.source, axis=1)
        # The pressure of step q stands at (q + 1) dt, the middle of its click half a step before that.
        click = np.fft.rfft(self.click, self.n)[:, None] * np.exp(-0.5j * w * self.dt)
        flow = 1j * w * click * self.cell**3 / (self.speed**2 * self.dt)
        direct = flow * np.exp(-1j * w * far_m / self.speed) / (4.0 * np.pi * far_m)
        solved = (f > SOLVED_HZ[0]) & (f < SOLVED_HZ[1])
        heard = np.zeros(direct.shape, np.complex128)
        heard[solved] = np.fft.rfft(self.pressure, self.n, axis=0)[solved] / direct[solved]
        return heard

    def energy(self, transfer):
        """Squared envelope of a transfer (n_frequencies,) in the band, (n,) over time."""
        f = np.maximum(self.frequency_hz, 1.0)
        rise, fall = (1.0 / (1.0 + np.exp(-np.clip(12.0 * np.log2(f / edge), -60, 60))) for edge in BAND_HZ)
        spectrum = np.zeros(self.n, np.complex128)
        spectrum[: len(f)] = transfer * rise * (1.0 - fall)
        return np.abs(2.0 * np.fft.ifft(spectrum)) ** 2

    def window_energy(self, energy, delay_s):
        """What of an envelope's energy lies about a delay."""
        first, last = (int((delay_s + side) / self.dt) for side in (-HALF_WINDOW_S, HALF_WINDOW_S))
        return energy[first:last].sum()

    def direct_energy(self, energy):
        """What of it is the direct sound, whose beginning lies at the end of the transform."""
        steps = int(DIRECT_S / self.dt)
        return energy[:steps].sum() + energy[-steps:].sum()


def load_waves(name):
    """The solution of a room by the name of its files."""
    with np.load(WAVES / f"{name}.npz") as kept:
        values = {key: kept[key] for key in Waves.__dataclass_fields__}
    return Waves(**{key: value if value.ndim else float(value) for key, value in values.items()})


@cache
def heard_at_receivers(name):
    """What is found at the nine places, and its near misses there: two tuples of PointArrivals.

    Each place is a seat of its own, so that all of them are ears.
    """
    scene, waves = load_scene(WAVES / f"{name}.toml"), load_waves(name)
    if name == "real":
        loudspeaker = scene.speakers[0].model_copy(update={"directivity": POINT_IN_A_FACE})
        scene = scene.model_copy(update={"speakers": (loudspeaker, *scene.speakers[1:])})
    seats = tuple(
        scene.seats[0].model_copy(update={"name": f"place {k}", "ears": tuple(place)})
        for k, place in enumerate(waves.receivers.tolist())
    )
    scene = scene.model_copy(update={"seats": seats})
    arrivals = find_arrivals(scene, build_room(scene), up_to_order=6, within_s=FOUND_UNTIL_S, zone=False)
    return arrivals.at_ears, arrivals.near_misses.at_ears


def without_paths(at_point: PointArrivals) -> PointArrivals:
    """The same place where nothing is found."""
    return replace(
        at_point,
        paths=first_rows(at_point.paths, 0),
        delay_s=at_point.delay_s[:0],
        pressure=at_point.pressure[:0],
        band_level_db=at_point.band_level_db[:0],
    )


def summed_transfer(waves, at_point, missed):
    """The summed paths at the frequencies of a solution, (n_frequencies,)."""
    f = waves.frequency_hz
    heard = np.zeros(len(f), np.complex128)
    # Outside these the band's filter lets nothing through.
    asked = (f > 0.5 * SOLVED_HZ[0]) & (f < 2.0 * SOLVED_HZ[1])
    heard[asked] = transfer(at_point, missed, f[asked])
    return heard


def peak_delays_s(at_point):
    """Delays of the strongest arrivals, none within half a window of a stronger one."""
    level_db, delay_s = at_point.band_level_db, at_point.delay_s
    apart: list[float] = []
    for row in np.argsort(-level_db, kind="stable"):
        near = any(abs(delay_s[row] - other) < HALF_WINDOW_S for other in apart)
        if level_db[row] > WEAKEST_DB and delay_s[row] < UNTIL_S and not near:
            apart.append(float(delay_s[row]))
    return apart


def own_peaks_s(at_point, missed):
    """Delays of near misses that are peaks of their own, with no strong arrival within half a window."""
    strong_s = at_point.delay_s[at_point.band_level_db > WEAKEST_DB]
    return [t for t in peak_delays_s(missed) if (np.abs(strong_s - t) >= HALF_WINDOW_S).all()]


def level_differences_db(name, *, with_near_misses=False, re_own_direct=False, at_near_misses=False):
    """Predicted less solved level of every peak at the nine places. [dB]

    With `re_own_direct` the solution's levels are re its direct sound as it arrives, not the closed form:
    loudspeakers bend it. `at_near_misses` asks for the peaks that near misses make by themselves.
    """
    waves = load_waves(name)
    solved = waves.transfer()
    differences = []
    for k, (at_point, missed) in enumerate(zip(*heard_at_receivers(name), strict=True)):
        nothing = without_paths(at_point)
        found = waves.energy(summed_transfer(waves, at_point, missed if with_near_misses else nothing))
        told = waves.energy(solved[:, k])
        if re_own_direct:
            direct = waves.energy(summed_transfer(waves, nothing, nothing))
            told = told * direct.sum() / waves.direct_energy(told)
        for delay_s in own_peaks_s(at_point, missed) if at_near_misses else peak_delays_s(at_point):
            predicted, wanted = (waves.window_energy(energy, delay_s) for energy in (found, told))
            differences.append(float(decibels(predicted / wanted)))
    return np.array(differences)
