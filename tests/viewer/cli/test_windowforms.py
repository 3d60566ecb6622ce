"""The window's forms of what is written ask for all that the commands take, in their words."""

import pytest

import tests.support.windows  # noqa: F401 (skips where there is no display)
from raytrace import PanelWish
from viewer.cli.main import app
from viewer.window.controls import DRAWINGS, PAGE, REPORT, Asked, OutputForm, wish_words

OF_THE_WINDOW = {"--scene", "--out", "--text"}  # it knows the scene, asks for the place itself
EVERYTHING = Asked(
    PanelWish(
        most_panels=6,
        budget=700.0,
        builds=("wool 100", "wool 50"),
        seats=("mix", "sofa"),
        weights=(3.0, 1.0),
        margin_db=1.5,
        singles=True,
        panels_only=True,
        moves=("desk", "seat"),
    )
)


def options_of(command):
    names = {name for own in app[command].assemble_argument_collection() for name in own.names}
    return names - {"*"} - OF_THE_WINDOW


def form_of(qtbot, output, wish=None):
    made = OutputForm(output, "metric", choose_file=lambda *_: "a file.toml", ask_wish=lambda: wish)
    qtbot.addWidget(made)
    return made


@pytest.mark.parametrize("output", [REPORT, DRAWINGS, PAGE], ids=lambda own: own.command)
def test_every_option_of_the_command_is_offered(output):
    offered = {own.flag for own in output.options}
    offered |= (
        {"--spend", *(word for word in wish_words(EVERYTHING) if word.startswith("--"))}
        if (output is REPORT)
        else set()
    )
    assert offered == options_of(output.command)


def test_a_form_that_is_left_as_it_is_asks_for_nothing_but_the_units(qtbot):
    for output in (REPORT, DRAWINGS, PAGE):
        assert form_of(qtbot, output).asked() == ["--units", "metric"]


def test_what_is_asked_for_is_read_by_the_command_line(qtbot):
    form = form_of(qtbot, REPORT, EVERYTHING)
    form.fields["--propose"].box.setChecked(True)
    form.which.click()
    form.fields["--for"].boxes[1].setChecked(True)
    form.fields["--size"].line.setText("1200x800")
    form.fields["--until"].line.setText("25")
    command, bound, _ = app.parse_args(
        ["report", "room.toml", *form.asked()], print_error=False, exit_on_error=False
    )
    assert command.__name__ == "report"
    told = bound.arguments
    assert told["readers"] == ["installer"]
    assert told["style"].pixels == (1200, 800)
    assert told["extent"].until == 25.0
    wish = told["wish"]
    assert (wish.panels, wish.budget, wish.margin, wish.moves) == (6, 700.0, 1.5, "desk,seat")
    assert wish.seat == ["mix=3", "sofa=1"]
    assert wish.build == ["wool 100", "wool 50"]
    assert wish.singles
    assert wish.panels_only


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (PanelWish(budget=700.0, spend=True), ["--spend", "700.0"]),
        (PanelWish(8, spend=True), ["--spend", "8 panels"]),
        (PanelWish(8), ["--panels", "8"]),
    ],
)
def test_an_amount_to_be_spent_is_told_as_the_command_takes_it(wish, words):
    assert wish_words(Asked(wish)) == words


def test_a_page_is_compared_with_a_file_that_is_chosen(qtbot):
    form = form_of(qtbot, PAGE)
    form.fields["--against"].choose.click()
    assert form.asked()[:2] == ["--against", "a file.toml"]


def test_what_was_measured_is_told_for_each_speaker(qtbot):
    form = form_of(qtbot, REPORT)
    form.fields["--measured"].line.setText("left=a.wav; right=b c.wav ;")
    _, bound, _ = app.parse_args(
        ["report", "room.toml", *form.asked()], print_error=False, exit_on_error=False
    )
    assert bound.arguments["files"].measured == ["left=a.wav", "right=b c.wav"]


def test_paper_is_one_of_those_that_the_command_knows(qtbot):
    form = form_of(qtbot, DRAWINGS)
    form.fields["--paper"].box.setCurrentText("A3")
    assert form.asked()[:2] == ["--paper", "A3"]
