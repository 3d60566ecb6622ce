"""Both themes can be read, and strong stands out in both."""

import numpy as np
import pytest

from tests.support.colours import contrast, luminance
from viewer import look
from viewer.window.state.theme import THEMES


@pytest.mark.parametrize("name", THEMES)
def test_words_keep_the_contrast_of_wcag(name):
    theme = THEMES[name]
    for words in (theme.ink, theme.muted, theme.accent):
        for ground in (theme.paper, theme.field, theme.ground):
            assert contrast(words, ground) >= 4.5, (words, ground)
    assert contrast(theme.ink, theme.chosen) >= 4.5
    assert contrast(theme.ink, theme.pressed) >= 4.5


@pytest.mark.parametrize("name", THEMES)
def test_the_stronger_a_level_the_more_it_stands_out_from_the_ground(name):
    theme = THEMES[name]
    levels = np.linspace(look.LEVEL_FROM_DB, look.LEVEL_TO_DB, 40)
    ground = luminance(look.rgb(theme.ground))
    away = np.abs(luminance(theme.level_colours(levels)) - ground)
    assert (np.diff(away) > -1e-3).all()  # colours are rounded to whole steps of 255
    assert away[-1] > away[0] + 0.2


@pytest.mark.parametrize("name", THEMES)
def test_an_unjudged_level_is_grey(name):
    theme = THEMES[name]
    assert theme.level_colours(np.array([np.nan]))[0] == pytest.approx(look.rgb(theme.unjudged), abs=0)
