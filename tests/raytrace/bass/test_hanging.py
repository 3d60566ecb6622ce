"""Panels that hang or stand free below 200 Hz, against a tube in closed form and a solution in time."""

import numpy as np
import pytest

from raytrace.bass.hanging import Hanging, through_and_round
from raytrace.bass.linings import line_modes
from raytrace.bass.modes import find_modes
from raytrace.bass.response import hear, level_db
from raytrace.room import build_room
from raytrace.scene import load_scene
from tests.support import oracles_time
from tests.support.rooms import room_text

SOFT = "[materials.soft]\nabsorption = [0.06, 0.06, 0.06, 0.06, 0.06, 0.06, 0.06, 0.06]\n"
LONG, WIDE, HIGH = 4.2, 1.0, 1.5
STAND = """
[builds.own]
like = "wool 100"
size = [0.675, 1.275]
[[stands]]
name = "screen"
build = "own"
at = [1.0, 1.2]
yaw = 180
lift = 0.1125
"""


def built(text):
    text = text.replace("[surfaces]", SOFT + "[surfaces]").replace('"plasterboard"', '"soft"')
    return build_room(load_scene("room.toml", text))


def hung(*entries):
    room = built(room_text("box", "".join(entries)))
    lined = line_modes(room, find_modes(room, top_hz=130.0))
    return room, lined, [lining for lining in lined.linings if isinstance(lining, Hanging)]


def tube(length, sheet, source, ear, *, k, through):
    """Pressure beyond a sheet across a rigid tube of section 1 from a layer of sources in it.

    A cos kx up to the source, B cos kx + C sin kx up to the sheet, D cos k (L - x) behind; the slope jumps by
    -1 at the source, the pressure by Z / (j k) times the slope at the sheet (textbook).
    """
    c, s = np.cos, np.sin
    rows = [
        [c(k * source), -c(k * source), -s(k * source), 0],
        [k * s(k * source), -k * s(k * source), k * c(k * source), 0],
        [0, -s(k * sheet), c(k * sheet), -s(k * (length - sheet))],
        [0, -c(k * sheet) + through / 1j * s(k * sheet), -s(k * sheet) - through / 1j * c(k * sheet), 0],
    ]
    rows[3][3] = c(k * (length - sheet))
    return np.linalg.solve(np.array(rows, complex), [0, -1, 0, 0])[3] * c(k * (length - ear))


@pytest.fixture(scope="module")
def narrow():
    shape = f'shape = "box"\nlength = {LONG}\nwidth = {WIDE}\nheight = {HIGH}'
    return find_modes(built(room_text(shape, speaker="[0.3, 0.5, 0.5]", seat="[3.3, 0.5, 0.5]")))


@pytest.mark.parametrize(("through", "off_db"), [(0.3, 0.5), (1.0, 0.7), (3.0, 2.0)])
def test_a_sheet_across_a_tube_is_that_of_the_closed_form(narrow, through, off_db):
    at, step, area = 2.9, 1e-3, WIDE * HIGH

    def section(x):
        y, z = np.meshgrid(*(side * (np.arange(6) + 0.5) / 6 for side in (WIDE, HIGH)))
        return np.column_stack([np.full(36, x), y.ravel(), z.ravel()])

    slope = ((narrow.at(section(at + step)) - narrow.at(section(at - step))) / (2 * step)).mean(axis=0)
    moves = narrow.eigenvalues > 0.1
    held = area * np.sum(slope[moves] ** 2 / narrow.eigenvalues[moves])
    hz = np.arange(25.0, 121.0, 5.0)
    k = 2 * np.pi * hz / narrow.speed_of_sound_m_s
    taken = through_and_round(np.full(len(k), through + 0j), k, round_per_m=held)
    overlap = area * np.outer(slope, slope)
    heard = hear(narrow, overlap[None], taken[:, None], np.array([[3.8, 0.5, 0.5]]), hz)
    # The mean over a section of the tube knows plane waves alone.
    found = heard.pressure(section(0.3)).mean(axis=1)[:, 0] * area
    expected = [tube(LONG, at, 0.3, 3.8, k=one, through=through) for one in k]
    # What modes above 230 Hz take part in is held at rest: at half their frequency a third of that is
    # missing, the more of it the more a sheet resists; one with a way round it never blocks so much.
    assert np.abs(level_db(found) - level_db(np.array(expected))).max() < off_db


def test_air_flows_round_a_plate_as_tables_say():
    # Virtual mass of a rectangle 1 by 2 moved square to itself, K = 0.757 times pi / 4 a a b (R. D. Blevins,
    # Formulas for Natural Frequency and Mode Shape, table 14-2, from memory); four patches give 3 % less.
    own = '[builds.own]\nlike = "wool 100"\nsize = [0.3, 0.6]\n'
    stand = '[[stands]]\nname = "s"\nbuild = "own"\nat = [2.9, 1.5]\nyaw = 180\nlift = 0.9\n'
    _, _, (panel,) = hung(own, stand)
    assert panel.round_m == pytest.approx(0.757 * np.pi / 4 * 0.3, rel=0.05)


def test_slabs_that_touch_are_one_plate():
    cloud = (
        '[[clouds]]\nname = "c"\nsurface = "ceiling"\nbuild = "wool 30"\ncentre = [2.1, 1.5]\ndrop = 0.36\n'
    )
    _, _, alone = hung(cloud + "rows = 1\ncolumns = 1\n")
    _, _, joined = hung(cloud + "rows = 2\ncolumns = 2\n")
    _, _, apart = hung(cloud + "rows = 2\ncolumns = 2\nspacing = 0.25\n")
    assert [one[0].area_m2 for one in (alone, joined, apart)] == pytest.approx([0.72, 2.88, 2.88])
    assert joined[0].round_m > 1.5 * alone[0].round_m
    assert alone[0].round_m < apart[0].round_m < joined[0].round_m


def test_a_solid_back_takes_no_energy_and_wool_does():
    hz = np.array([40.0, 120.0])
    for back, loses in (("open", True), ("solid", False)):
        room, _, (panel,) = hung(STAND.replace("[[stands]]", f'back = "{back}"\n[[stands]]', 1))
        taken = panel.admittance(hz, room.medium)
        assert (taken.imag > 0.0).all()  # air that has to go round: modes come down
        assert (taken.real > 0.0).all() == loses
        assert (taken.real >= 0.0).all()


def test_a_sheet_in_a_room_damps_its_first_mode_as_in_time():
    room, lined, (panel,) = hung(STAND)
    edge_m, through = 0.15, 0.4
    c = room.speed_of_sound_m_s
    hz = np.array([38.0, 40.0, 40.8, 42.0])
    k = 2 * np.pi * hz / c
    admittances = lined.admittances(hz, room.medium)
    row = lined.linings.index(panel)
    round_per_m = 1.0 / panel.round_m + panel.found_per_m
    admittances[:, row] = through_and_round(np.full(len(k), through + 0j), k, round_per_m=round_per_m)
    wall = float(admittances[0, 1 - row if row < 2 else 0].real)
    air = oracles_time.box(np.array([4.2, 3.0, 2.4]), edge_m, lambda _a, _e, u, _v: np.full(u.shape, wall))
    source, ears = (
        edge_m * np.array([1.5, 2.5, 1.5]),
        edge_m * np.array([[20.5, 12.5, 8.5], [24.5, 4.5, 3.5]]),
    )
    # Where nothing passes between 4 by 8 bricks it is as if a plate were half a brick larger: the stand.
    sheet = np.zeros((27, 20, 16))
    sheet[6, 6:10, 1:9] = through
    in_time = [
        oracles_time.greens(air, source, ears, hz, c=c, until_s=1.0, sheet=one) for one in (None, sheet)
    ]
    without = np.delete(np.arange(len(lined.linings)), row)
    found = [
        hear(lined.modes, lined.overlaps[rows], admittances[:, rows], ears, hz).pressure(source[None])[:, 0]
        for rows in (without, np.arange(len(lined.linings)))
    ]
    change, expected = (level_db(b) - level_db(a) for a, b in (found, in_time))
    assert expected[2].max() < -1.5  # it does something
    # In time the bricks move the mode by a third of a hertz, a flank of 1 dB, and the sheet moves it again.
    assert np.abs(change - expected).max() < 0.35
    assert np.abs(change - expected)[2].max() < 0.2
