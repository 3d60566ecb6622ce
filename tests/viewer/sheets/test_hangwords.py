"""What stands beside a drawing: figures of the room, loads of the statics, the right cautions."""

import pytest

from raytrace import CAUTIONS, Treatment, build_room
from tests.support.panelled import GABLE_ROOM, JOISTS, cloud, panel, scene_text
from tests.support.treatedrooms import treated_text
from viewer.sheets.hangwords import cautions, know, sequence, tables, to_know
from viewer.sheets.treatedview import find_views


@pytest.fixture
def beside(scene_of):
    """Words beside the first drawing of a scene, by part."""

    def read(text):
        scene = scene_of(text)
        treatment = Treatment(scene, build_room(scene))
        view = find_views(treatment)[0]
        parts = {
            "tables": tables(view, treatment, "metric"),
            "know": to_know(know(view, treatment, "metric"), 400.0),
            "do": sequence(view, "metric", 400.0),
            "cautions": cautions(view, treatment, 600.0),
        }
        words = {name: [m.text for s in strips for m in s.marks if m.text] for name, strips in parts.items()}
        return treatment, words

    return read


def test_a_panel_row_gives_size_edges_height_and_mass(beside):
    treatment, words = beside(scene_text(cloud(centre=[1.4, 3.0], drop=0.3)))
    at = words["tables"].index("cloud A1")
    row = [word.replace("\u00a0", " ") for word in words["tables"][at + 1 : at + 9]]
    load = treatment.loads[0]
    # Slab 1.2 along the room and 0.6 across about x = 1.4, y = 3.0, 350 mm below a ceiling at 3.2.
    assert row[:6] == ["600 x 1200 x 50", "800", "2700", "2850", "300", "0"]
    assert row[6:] == [f"{load.piece.mass_kg:.1f}", f"{load.worst_kg:.1f}"]


def test_a_hook_on_a_joist_says_which_and_one_beside_needs_a_batten(beside):
    _, words = beside(scene_text(JOISTS + cloud()))
    # Joists at 0.2, 0.6, ... 3.0 is the eighth; the other hooks stay 150 mm off the nearest.
    assert words["tables"].count("joist 8") == 2
    assert words["tables"].count("batten, 150 off") == 2
    assert any("Cords under battens end at the batten" in word for word in words["know"])
    assert [row for row in words["tables"] if row == "255"] == ["255"] * 2  # 300 mm less the batten's 45


def test_spacers_before_a_batten_are_shorter(beside):
    rafters = (
        JOISTS.replace("ceiling", "left slope").replace("first = 0.2", "first = 0.3").replace("0.4", "0.6")
    )
    off = panel(surface="left slope", centre=[2.5, 1.4], gap=0.05)
    _, words = beside(scene_text(rafters + off, GABLE_ROOM))
    assert any("Where a batten lies behind a panel" in word for word in words["know"])
    assert not any("Cords" in word for word in words["know"])


def test_of_a_stack_that_is_owned_in_part_it_says_how_many(beside):
    stand = '\n[[stands]]\nname = "S"\nbuild = "wool 50"\nat = [2.5, 2.0]\nyaw = 0\nstacked = 2\n'
    for n_owned, told in ((1, "S (1 of 2 panels)."), (2, "S.")):
        _, words = beside(scene_text(f'[stock]\n"wool 50" = {n_owned}\n{stand}'))
        assert any(f"Owned already, nothing to make: {told}" in word for word in words["know"])


def test_without_joists_it_asks_to_find_the_structure(beside):
    _, words = beside(scene_text(cloud()))
    assert words["tables"].count("find structure") == 4
    assert any("no joists or studs are given" in word for word in words["do"])


def test_assumed_joists_are_to_be_found_and_surveyed_ones_to_be_checked(beside):
    _, surveyed = beside(scene_text(JOISTS + cloud()))
    _, assumed = beside(scene_text(JOISTS.replace('"surveyed"', '"assumed"') + cloud()))
    assert any("to check the survey" in word for word in surveyed["do"])
    assert any("assumed, not surveyed" in word for word in assumed["do"])


def test_loads_of_a_string_are_stated_as_practice_with_their_source(beside):
    treatment, words = beside(scene_text(cloud()))
    least = -(-treatment.loads[0].working_load_kg // 1)  # rounded up to whole kilograms
    assert any(
        f"{least:.0f} kg or more" in word and "DGUV Information 215-313" in word for word in words["know"]
    )


@pytest.mark.parametrize(
    ("text", "needed"),
    [
        (scene_text(cloud()), ("Overhead loads", "Ladders", "Textured")),
        (scene_text(panel()), ("Look for cables", "Damp")),
        (treated_text("rented"), ("Fire", "Stands and leaning panels")),
    ],
)
def test_cautions_belong_to_what_is_done(beside, text, needed):
    _, words = beside(text)
    told = " ".join(words["cautions"])
    assert told.removeprefix("Cautions ").startswith(CAUTIONS[0].split(" Fixings")[0])
    for start in needed:
        assert start in told
    assert ("Overhead" in told) == ("Overhead loads" in needed)


def test_standing_panels_say_at_what_push_they_tip(beside):
    treatment, words = beside(treated_text("rented"))
    for entry in treatment.stability.values():
        push = f"{entry.body.push_n:.1f} N at {1000 * entry.body.push_height_m:.0f} mm"
        assert any(push in word for word in words["know"])


def test_a_raft_has_one_row_with_its_mass_below_those_of_its_slabs(beside):
    treatment, words = beside(scene_text(JOISTS + cloud(rows=2, columns=3) + "raft = true\n"))
    (load,) = treatment.loads.values()
    at = words["tables"].index("cloud, the raft")
    row = [word.replace("\u00a0", " ") for word in words["tables"][at + 1 : at + 9]]
    # Slabs from x 1.3 to 3.7 and y 1.1 to 2.9 at 2.85 m, frame 20 mm, bars on edge 45 mm below.
    assert row == [
        "1840 x 2440 x 95", "1280", "1080", "2805", "300", "0",
        f"{load.piece.mass_kg:.1f}", f"{load.worst_kg:.1f}",
    ]  # fmt: skip
    assert words["tables"].count(f"{load.piece.mass_kg:.1f}") == 1
    assert sum(word.startswith("joist ") for word in words["tables"]) == len(treatment.hooks) == 4
    assert any("turnbuckles half-way" in word for word in words["know"])


def test_windows_stand_with_size_and_place(beside):
    more = """
[[openings]]
name = "window"
kind = "window"
surface = "left wall"
at = [3.4, 0.9]
size = [1.2, 1.1]
material = "glass"
"""
    _, words = beside(scene_text(more + panel(centre=[1.0, 1.2])))
    at = words["tables"].index("window")
    # Edge from the back wall on the left, edge from the floor.
    assert words["tables"][at + 1 : at + 4] == ["1200 x 1100", "3400", "900"]
