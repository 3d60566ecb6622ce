"""What a scene puts into its room: openings, joists, panels, speakers, ears: they fit or are refused."""

import re

import pytest

from raytrace import SceneError, build_room
from raytrace.scene import ALONG_LEVEL, ALONG_UPRIGHT
from tests.support.rooms import DESK, room_text

EXACT = 1e-12  # sums of a few dozen products of metres


def opening(surface, at, size, name="window"):
    return (
        f'[[openings]]\nname = "{name}"\nsurface = "{surface}"\nat = {list(at)}\nsize = {list(size)}\n'
        'kind = "window"\nmaterial = "window"\n'
    )


def test_an_opening_lies_where_it_was_measured(room_of):
    room = room_of(more=opening("back wall", (0.3, 0.9), (1.2, 1.1)))
    (placed,) = room.openings
    assert placed.rect == pytest.approx([0.3, 0.9, 1.5, 2.0], abs=EXACT)
    wall = room.surfaces[placed.surface]
    assert wall.openings == (placed,)
    # Facing the back wall, u = 0 is on the listener's right: y = 3.0.
    assert wall.frame.to_room(placed.rect[:2]) == pytest.approx([4.2, 2.7, 0.9], abs=EXACT)


def test_an_opening_may_fill_its_surface(room_of):
    room = room_of("lean-to", opening("front wall", (0, 0), (2.9, 2.05)))
    assert len(room.openings) == 1


REFUSED = {
    "past the far side": (
        "box",
        opening("back wall", (2.0, 0.9), (1.2, 1.0)),
        "at: reaches 200 mm past the right edge of",
    ),
    "below": (
        "box",
        opening("back wall", (1.0, -0.1), (1.0, 1.0)),
        "at: reaches 100 mm past the bottom edge",
    ),
    "above": ("box", opening("back wall", (1.0, 1.5), (1.0, 1.0)), "reaches 100 mm past the top edge"),
    "over a slope": ("gable", opening("front wall", (0.0, 1.0), (1.0, 1.0)), "leaves the outline of"),
    "overlap": (
        "box",
        opening("back wall", (0.5, 0.9), (1.0, 1.0))
        + opening("back wall", (1.3, 1.0), (1.0, 1.2), name="hatch"),
        'openings[2].at: overlaps "window" by 200 mm x 900 mm',
    ),
    "unknown surface": (
        "box",
        opening("bakc wall", (0, 0), (1, 1)),
        'no surface "bakc wall", did you mean "back wall"?',
    ),
    "unknown keep-out surface": (
        "box",
        '[[keep_outs]]\nname = "alarm"\nsurface = "cieling"\ncentre = [1, 1]\nradius = 0.3\n',
        'no surface "cieling", did you mean "ceiling"?',
    ),
    "keep-out off its surface": (
        "box",
        '[[keep_outs]]\nname = "alarm"\nsurface = "ceiling"\ncentre = [4.5, 1]\nradius = 0.3\n',
        "keep_outs[1].centre: reaches 300 mm past the back side",
    ),
    "keep-out half off": (
        "box",
        '[[keep_outs]]\nname = "light"\nsurface = "ceiling"\nat = [4.0, 1]\nsize = [0.4, 0.4]\n',
        "keep_outs[1].at: reaches 200 mm past the back side",
    ),
    "panel off its surface": (
        "box",
        "[builds.slab]\nsize = [0.6, 1.2]\nthickness = 0.05\nflow_resistivity = 12000\n"
        '[[panels]]\nname = "P1"\nsurface = "left wall"\nbuild = "slab"\ncentre = [0.5, 1.2]\nturned = 90\n',
        "panels[1].centre: reaches 100 mm past the left edge",
    ),
    "joists in nothing": (
        "box",
        '[[joists]]\nsurface = "roof"\nalong = "u"\nfirst = 0.2\nspacing = 0.4\n',
        'joists[1].surface: no surface "roof"',
    ),
    "joists across a level ceiling": (
        "box",
        '[[joists]]\nsurface = "ceiling"\nalong = "across"\nfirst = 0.2\nspacing = 0.4\n',
        'joists[1].along: the ceiling is level; joists run "front to back" or "left to right"',
    ),
    "studs from left to right": (
        "box",
        '[[joists]]\nsurface = "left wall"\nalong = "left to right"\nfirst = 0.2\nspacing = 0.4\n',
        'joists[1].along: the left wall is not level; joists run "across" or "up"',
    ),
}


@pytest.mark.parametrize(("surface", "u", "v"), [("ceiling", *ALONG_LEVEL), ("left wall", *ALONG_UPRIGHT)])
def test_joists_run_the_way_their_words_say_and_the_old_letters_still_read(scene_of, surface, u, v):
    entry = f'[[joists]]\nsurface = "{surface}"\nalong = "%s"\nfirst = 0.2\nspacing = 0.4\n'
    along_u = []
    for word in (u, "u", v, "v"):
        scene = scene_of(room_text("box", entry % word))
        build_room(scene)
        along_u.append(scene.joists[0].along_u)
    assert along_u == [True, True, False, False]


@pytest.mark.parametrize("case", REFUSED)
def test_what_does_not_fit_its_surface_is_refused(scene_of, case):
    shape, more, words = REFUSED[case]
    scene = scene_of(room_text(shape, more))
    with pytest.raises(SceneError, match=re.escape(words)) as caught:
        build_room(scene)
    assert caught.value.line > 0


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (
            opening("back wall", (2.0, 0.9), (1.2, 1.0)),
            '7 7/8" past the right edge of "back wall"; it runs 0" to 9\' 10 1/8" from its left edge',
        ),
        (
            opening("back wall", (1.8006, 0.9), (1.2, 1.0)),
            'reaches less than 1/8" past the right edge',
        ),
        (
            opening("back wall", (0.5, 0.9), (1.0, 1.0))
            + opening("back wall", (1.3, 1), (1, 1), name="hatch"),
            'overlaps "window" by 7 7/8" x 2\' 11 3/8"',
        ),
    ],
)
def test_a_scene_in_feet_is_refused_in_feet(scene_of, more, words):
    scene = scene_of(room_text("box", more) + '[job]\nunits = "imperial"\n')
    with pytest.raises(SceneError, match=re.escape(words)) as caught:
        build_room(scene)
    assert " m " not in str(caught.value).partition(":")[2]


def test_a_speaker_outside_a_room_in_feet_is_told_so_in_feet(scene_of):
    scene = scene_of(room_text("box", '[job]\nunits = "imperial"\n', speaker="[1.0, -0.2, 1.2]"))
    words = '7 7/8" outside the room, beyond "left wall"; the room spans x 0" to 13\' 9 3/8", y 0" to'
    with pytest.raises(SceneError, match=re.escape(words)):
        build_room(scene)


def test_a_turned_panel_that_fits_upright_only_is_judged_as_turned(room_of):
    panel = (
        "[builds.slab]\nsize = [0.6, 1.2]\nthickness = 0.05\nflow_resistivity = 12000\n"
        '[[panels]]\nname = "P1"\nsurface = "left wall"\nbuild = "slab"\ncentre = [0.5, 1.2]\n'
    )
    room_of(more=panel)
    with pytest.raises(SceneError, match="past the left edge"):
        room_of(more=panel + "turned = 90\n")


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("[1.0, -0.2, 1.2]", '200 mm outside the room, beyond "left wall"'),
        ("[4.3, 1.5, 1.2]", '100 mm outside the room, beyond "back wall"'),
        ("[1.0, 1.5, 2.75]", '350 mm outside the room, beyond "ceiling"'),
        ("[2.8, 1.5, 0.65]", 'inside the object "desk", 50 mm below its face "desk top"'),
        ("[2.8, 1.5, 0.7]", 'lies exactly on "desk top"'),
    ],
)
def test_a_speaker_or_seat_that_is_not_in_the_air_is_refused(scene_of, place, words):
    for key, places in (("speakers[1].position", {"speaker": place}), ("seats[1].ears", {"seat": place})):
        with pytest.raises(SceneError) as caught:
            build_room(scene_of(room_text("box", DESK, **places)))
        assert f"{key}: {words}" in str(caught.value)
        assert place in str(caught.value)


def test_the_nook_of_an_elbow_is_inside_and_its_missing_part_is_not(room_of):
    room_of("elbow", speaker="[5.0, 4.5, 1.2]")
    with pytest.raises(SceneError, match='600 mm outside the room, beyond "wall 5"'):
        room_of("elbow", speaker="[2.0, 4.0, 1.2]")
