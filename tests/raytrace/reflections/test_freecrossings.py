"""What passes a free-hung panel twice, against waves: line source and strips, in two dimensions."""

import numpy as np
import pytest

from raytrace import build_room, find_paths
from raytrace.acoustics import DEFAULT_SCATTERING, band_frequencies_hz, band_share
from raytrace.reflections import find_reflectors, returned_pressure
from raytrace.room import BOARD_M
from tests.support.oracles_waves import strip_weight_2d, two_strips_weight_2d
from tests.support.rooms import room_text

LONG_M, HIGH_M = 20.0, 10.0  # a strip from wall to wall under a high ceiling
THICK_M = 0.05
SETUPS = {  # to the side and down from the ceiling over the middle of the strip. [m]
    "oblique": (np.array([-1.0, 1.4]), np.array([1.2, 1.2])),
    "steep": (np.array([-0.3, 1.5]), np.array([0.2, 1.5])),
    "flat": (np.array([-2.0, 1.5]), np.array([2.0, 1.3])),
}


@pytest.fixture
def hung(scene_of):
    """What comes back from a ceiling with a strip under it: kinds of bounces, lengths [m] and factors."""

    def returned(gap, width, ends, back="solid"):
        # A cloud's drop ends at the back of what is made, the gap for sound at its slab.
        drop = gap - (BOARD_M if back == "solid" else 0.0)
        more = (
            '[materials."hard"]\nabsorption = [0, 0, 0, 0, 0, 0, 0, 0]\nscattering = 0\n'
            f'source = "none: a mirror"\n[builds.strip]\nsize = [{LONG_M}, {width}]\nthickness = {THICK_M}\n'
            f'flow_resistivity = 15000\nback = "{back}"\n[[clouds]]\nname = "c"\nsurface = "ceiling"\n'
            f'build = "strip"\ncentre = [{0.5 * LONG_M}, 10]\nrows = 1\ncolumns = 1\ndrop = {drop}\n'
        )
        spots = [(0.5 * LONG_M, 10.0 + float(x), HIGH_M - float(down)) for x, down in ends]
        text = room_text(
            f'shape = "box"\nlength = {LONG_M}\nwidth = 20\nheight = {HIGH_M}',
            more,
            speaker=str(list(spots[0])),
            seat=str(list(spots[1])),
        ).replace('"plasterboard"', '"hard"')
        room = build_room(scene_of(text))
        paths = find_paths(room, *spots, up_to_order=3, within_s=0.02)
        names = [room.surfaces[facet.surface].name for facet in room.facets]
        factors = returned_pressure(room, find_reflectors(room), paths)
        kinds = [tuple(names[f] for f in facets if f >= 0) for facets in paths.facets]
        above = [k for k, kind in enumerate(kinds) if set(kind) <= {"ceiling", "c underside", "c top"}]
        return room, {kinds[k]: (paths.length_m[k], factors[k]) for k in above}

    return returned


def level_db(factors):
    """Octave means of |F|^2 over the last axis. [dB]"""
    return 10.0 * np.log10((np.abs(factors) ** 2).mean(axis=-1))


@pytest.mark.parametrize("setup", SETUPS)
@pytest.mark.parametrize("width", [0.6, 1.2])
@pytest.mark.parametrize("gap", [0.3001, 0.6, 2.0])
def test_two_screens_in_a_row_pass_what_the_double_integral_says(hung, gap, width, setup):
    """An opaque strip: 1 - K - K' + K2, each by Kirchhoff's integral in two dimensions."""
    ends = SETUPS[setup] if gap < 1.0 else [end + np.array([0.0, 1.5]) for end in SETUPS[setup]]
    room, back = hung(gap, width, ends)
    some = (slice(2, 7), slice(2, None, 5))  # five frequencies in each octave from 250 Hz to 4 kHz
    source, receiver = ends[0] * [1, -1], ends[1]
    strip, middle = (-0.5 * width, 0.5 * width), gap + 0.5 * THICK_M
    screens = []
    for k in (2.0 * np.pi * band_frequencies_hz()[some] / room.speed_of_sound_m_s).ravel():
        alone = [strip_weight_2d(*strip, source - [0, y], receiver - [0, y], k) for y in (-middle, middle)]
        both = two_strips_weight_2d([strip, strip], (-middle, middle), source, receiver, k, nodes=200)
        screens.append(1.0 - sum(alone) + both)
    ours, theirs = (level_db(factors) for factors in (back["ceiling",][1][some], np.reshape(screens, (5, 5))))
    # Amplitudes are those of small angles: worst 1.5 dB, 33 dB down behind the wide strip. As if the two
    # crossings were independent they are up to 12 dB apart.
    np.testing.assert_allclose(ours, theirs, atol=1.6)
    assert np.abs(ours - theirs)[theirs > -15.0].max(initial=0.0) < 1.1


@pytest.mark.parametrize("back", ["solid", "open"])
@pytest.mark.parametrize("setup", SETUPS)
@pytest.mark.parametrize("width", [0.6, 1.2])
def test_a_panel_hung_lower_by_a_fraction_of_a_millimetre_does_the_same(hung, width, setup, back):
    """One reflector with its surface at a gap of 299.9 mm, three paths at 300.1 mm."""
    sums = []
    for gap in (0.2999, 0.3001):
        room, returned = hung(gap, width, SETUPS[setup], back)
        straight = returned["ceiling",][0]
        k = 2.0 * np.pi * band_frequencies_hz() / room.speed_of_sound_m_s
        total = np.zeros(k.shape, complex)
        for kind, (length, factors) in returned.items():
            # The ceiling scatters nothing here, a panel that hangs free does.
            smooth = np.sqrt(1.0 - DEFAULT_SCATTERING[:, None]) ** sum(name != "ceiling" for name in kind)
            total += factors / smooth * straight / length * np.exp(-1j * k * (length - straight))
        assert len(returned) == (3 if gap > 0.3 else 1)
        sums.append(total)
    share = band_share(1000.0, 8000.0)
    energies = [(np.abs(total) ** 2).mean(axis=1) for total in sums]
    before, after = (10.0 * np.log10(share @ energy) for energy in energies)
    assert after == pytest.approx(before, abs=0.3)
    # Further bounces between panel and ceiling are paths of five bounces and more: not looked for.
    np.testing.assert_allclose(*(level_db(total)[2:7] for total in sums), atol=0.3)
