"""Charts of before and after: what is drawn are the numbers of both studies; words apart, border empty."""

import pytest
from matplotlib.colors import to_hex

from raytrace import compare, load_scene, run_study
from tests.support.chartchecks import assert_clean
from tests.support.jargon import jargon_in
from tests.support.scenes import BOX, SCENES
from viewer import look
from viewer.charts.change import change_figure, draw_changes
from viewer.charts.paper import SIZE

SOFT = '"left wall" = "carpet"\n"ceiling" = "carpet"\n'


@pytest.fixture(scope="module")
def comparison(tmp_path_factory):
    path = tmp_path_factory.mktemp("scenes") / "scene.toml"
    text = (SCENES / "box.toml").read_text(encoding="utf-8")
    treated = text.replace('floor = "laminate floor"\n', f'floor = "laminate floor"\n{SOFT}')
    return compare(*(run_study(load_scene(path, own), up_to_order=3) for own in (text, treated)))


def test_words_are_apart_and_inside_and_the_border_is_empty(comparison, tmp_path):
    charts = draw_changes(comparison, tmp_path)
    assert [(c.speaker, c.seat) for c in charts] == [(0, 0), (1, 0)]
    for chart in charts:
        assert_clean(chart, SIZE)
        assert not jargon_in("\n".join(box.text for box in chart.boxes))


def test_the_pale_line_is_before_and_the_dark_one_after(comparison):
    figure, _ = change_figure(comparison, comparison.verdicts[0])
    long = [line for line in figure.axes[0].lines if len(line.get_xdata()) > 1000]
    assert [to_hex(line.get_color()).upper() for line in long] == [look.HAIRLINE, look.INK]
    for line, study in zip(long, (comparison.before, comparison.after), strict=True):
        loud = study.curves[0].level_db > -40.0
        assert line.get_xdata() == pytest.approx(study.curves[0].time_s * 1e3)
        assert line.get_ydata()[loud] == pytest.approx(study.curves[0].level_db[loud])


def test_names_say_what_became_of_what_is_over_the_limit(comparison):
    pair = comparison.verdicts[0]
    _, texts = change_figure(comparison, pair)
    own = [p for p in comparison.peaks if (p.speaker, p.seat) == (pair.speaker, pair.seat)]
    over = [p for p in own if any(q is not None and q.over_limit and q.arrivals for q in (p.before, p.after))]
    named = {
        t.get_text(): t
        for t in texts
        if t.get_text().endswith(("weaker", "stronger", "gone", "new", "as before"))
    }
    assert 1 <= len(over) <= len(named)
    both = [p for p in over if p.before is not None and p.after is not None]
    for p in both:
        change_db = p.after.level_db - p.before.level_db
        if abs(change_db) >= 0.05:
            ends = f"{abs(change_db):.1f} dB {'weaker' if change_db < 0 else 'stronger'}"
            (text,) = [t for words, t in named.items() if words.endswith(ends)]
            still = to_hex(text.get_color()).upper() == look.ACCENT
            assert still == p.after.over_limit


def test_a_scene_that_is_not_judged_has_no_chart(tmp_path):
    board = (
        '[[objects]]\nname = "board"\nshape = "box"\ncentre = [2.0, 1.6, 1.2]\nsize = [0.05, 0.8, 1.6]\n'
        'material = "hard"\n'
    )
    study = run_study(load_scene(tmp_path / "scene.toml", BOX + board), up_to_order=1)
    assert draw_changes(compare(study, study), tmp_path) == ()
