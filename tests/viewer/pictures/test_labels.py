"""Names in two columns: disjoint, inside, leaders uncrossed."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viewer.pictures.labels import Box, Label, place_labels, segments_cross

COLUMNS = (Box("left", 10, 20, 110, 520), Box("right", 390, 20, 490, 520))
GAP = 4.0


def measure(label):
    return 8.0 * len(label.name), 30.0 if label.value else 16.0


anchors = st.tuples(st.floats(130, 370), st.floats(20, 520))
labels = st.builds(
    lambda name, value, anchor, rank: Label(name, value, "#000000", anchor, 5.0, rank),
    st.text("abc", min_size=1, max_size=12),
    st.sampled_from(["", "2.0 dB over the limit"]),
    anchors,
    st.integers(0, 4),
)


@given(st.lists(labels, max_size=25))
def test_names_stay_in_their_columns_and_never_touch(given_labels):
    placed = place_labels(given_labels, COLUMNS, measure=measure, gap_px=GAP)
    for entry in placed:
        column = COLUMNS[0] if entry.box.right <= COLUMNS[0].right else COLUMNS[1]
        assert column.left <= entry.box.left
        assert entry.box.right <= column.right
        assert column.top - 1e-9 <= entry.box.top
        assert entry.box.bottom <= column.bottom + 1e-9
    for one, other in itertools.combinations(placed, 2):
        assert not one.box.overlaps(other.box)


@given(st.lists(labels, max_size=25))
def test_leaders_of_a_column_never_cross(given_labels):
    placed = place_labels(given_labels, COLUMNS, measure=measure, gap_px=GAP)
    for side in COLUMNS:
        own = [p.leader for p in placed if side.left <= p.box.left and p.box.right <= side.right]
        assert not any(segments_cross(one, other) for one, other in itertools.combinations(own, 2))


@given(st.lists(labels, max_size=25))
def test_only_the_least_important_are_left_out(given_labels):
    placed = place_labels(given_labels, COLUMNS, measure=measure, gap_px=GAP)
    kept = sorted(entry.label.rank for entry in placed)
    assert kept == sorted(label.rank for label in given_labels)[: len(kept)]
    if sum(measure(label)[1] + GAP for label in given_labels) <= 500:
        assert len(placed) == len(given_labels)


def test_a_lone_name_stands_level_with_what_it_names():
    (entry,) = place_labels(
        [Label("seat", "", "#000000", (200.0, 300.0), 5.0, 0)], COLUMNS, measure=measure, gap_px=GAP
    )
    assert (entry.box.top + entry.box.bottom) / 2 == pytest.approx(300.0)
    assert entry.box.right == COLUMNS[0].right


def test_a_leader_stops_before_what_it_names():
    (entry,) = place_labels(
        [Label("seat", "", "#000000", (200.0, 300.0), 5.0, 0)], COLUMNS, measure=measure, gap_px=GAP
    )
    assert np.hypot(*np.subtract(entry.leader[1], (200.0, 300.0))) == pytest.approx(5.0)


def test_lines_that_meet_in_a_point_do_not_cross():
    assert segments_cross(((0, 0), (2, 2)), ((0, 2), (2, 0)))
    assert not segments_cross(((0, 0), (2, 2)), ((2, 2), (4, 0)))
