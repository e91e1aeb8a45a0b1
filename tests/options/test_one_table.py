"""One table of choices: every flag, widget and address key agrees with its field."""

from typing import Any

import click
import pytest
from click.testing import CliRunner
from streamlit.testing.v1 import AppTest

from lensyard.dashboard.controls import CHOICES, GOAL, USUAL, Controls, from_address, to_address
from lensyard.errors import InvalidInputError
from lensyard.options import groups, situation
from lensyard.options.choices import Number, OneOf, Switch, choices_of, default_of
from lensyard.options.click_options import argument_name, options
from lensyard.render.theme import THEMES

GROUPS = [
    group
    for group in (vars(groups) | vars(situation)).values()
    if isinstance(group, type) and group.__name__.endswith("Options")
]
FIELDS = [
    pytest.param(group, name, id=f"{group.__name__}.{name}")
    for group in GROUPS
    for name in choices_of(group)
]
# The ball has a slider; what is reviewed is chosen from the games in the log.
WITH_A_WIDGET = [name for name in CHOICES if name not in ("yardline_100", "game", "season")]


def typed(group, name, *texts):
    """Return what a command gets for a field when these texts are typed."""
    got: list[Any] = []

    @click.command()
    @options(group)
    def command(**values):
        got.append(values[argument_name(group)])

    what = choices_of(group)[name]
    words = [part for text in texts for part in (what.flag, text)]
    if isinstance(what.kind, Switch) and what.kind.is_flag:
        words = [what.flag] if texts == (what.kind.yes,) else []
    for field, needed in {"down": ["--down", "1"], "yardline_100": ["--ball", "own25"]}.items():
        if field in choices_of(group) and field != name:
            words += needed
    CliRunner().invoke(command, words, catch_exceptions=False)
    if not got:
        raise click.UsageError("refused")
    return getattr(got[0], name)


def outside(what):
    """Return texts beyond the limits of a choice."""
    if isinstance(what.kind, Number):
        return [str(what.kind.low - 1), str(what.kind.high + 1), "nan", "soon"]
    return ["no such name"] if isinstance(what.kind, OneOf | Switch) else []


@pytest.mark.parametrize(("group", "name"), FIELDS)
def test_a_value_survives_being_written_and_read(group, name):
    what = choices_of(group)[name]
    values = [*what.offered, getattr(group(), name)]
    if isinstance(what.kind, Number):
        values += [what.kind.low, what.kind.high]
    for value in values:
        texts = [] if value is None else what.kind.write(value)
        if texts:
            assert what.kind.read(texts, name=what.name) == value


@pytest.mark.parametrize(("group", "name"), FIELDS)
def test_the_command_line_has_the_limits_and_the_default_of_the_table(group, name):
    what = choices_of(group)[name]
    default = default_of(group, name)
    if what.required:
        assert typed(group, name, *what.kind.write(default)) == default
    else:
        assert typed(group, name) == getattr(group(), name)
    kind = what.typed or what.kind
    if kind is what.kind and not (isinstance(kind, Switch) and kind.is_flag):
        for text in outside(what):
            with pytest.raises((InvalidInputError, click.UsageError)):
                typed(group, name, text)
    if isinstance(kind, OneOf):
        known = kind.known
        assert [typed(group, name, text) for text in known] == [kind.make(text) for text in known]


@pytest.mark.parametrize("name", CHOICES)
def test_the_address_has_the_limits_and_the_default_of_the_table(name):
    what = CHOICES[name]
    assert getattr(from_address({}).controls, name) == getattr(Controls(), name)
    for text in outside(what):
        address = from_address({what.address: [text]})
        assert len(address.issues) == 1
        assert address.controls == Controls()
    for key in (what.address, *what.older):
        for value in what.offered:
            texts = ["usual"] if value is None else what.kind.write(value)
            found = from_address({"ball": ["own1"], key: texts})
            assert found.issues == ()
            assert getattr(found.controls, name) == value
            assert from_address(to_address(found.controls)).controls == found.controls


def one_widget(name):
    """Show a widget; runs in the harness, which knows no imports of this module."""
    import streamlit

    from lensyard.dashboard.controls import Controls
    from lensyard.dashboard.widgets import widget

    streamlit.session_state.setdefault(f"next_{name}", Controls().shown(name))
    widget(Controls(), name)


@pytest.mark.slow
@pytest.mark.parametrize("name", WITH_A_WIDGET)
def test_the_widget_offers_what_the_table_allows(name):
    what = CHOICES[name]
    app = AppTest.from_function(one_widget, args=(name,)).run()
    assert not app.exception
    [shown] = [e for e in app.main.children.values() if getattr(e, "key", "") == f"next_{name}"]
    assert shown.label == what.label
    assert shown.value == Controls().shown(name)
    if shown.type == "number_input":
        assert isinstance(what.kind, Number)
        assert (shown.min, shown.max) == (what.kind.low, what.kind.high)
    elif shown.type in ("button_group", "selectbox") and isinstance(what.kind, OneOf):
        values = what.offered or [what.kind.make(known) for known in what.kind.known]
        assert list(shown.options) == [what.words(value) for value in values]


def test_what_stands_for_something_else_on_a_widget_is_no_value():
    for value in (GOAL, USUAL):
        for key in ("distance", "bodies", "zone_down"):
            assert from_address({key: [str(value)]}).issues


def test_every_choice_of_the_pages_has_a_flag_and_says_what_it_is():
    for name, what in CHOICES.items():
        assert what.flag.startswith("--"), name
        assert what.help.endswith("."), name
        assert what.label, name


def test_no_two_choices_share_a_key_of_the_address():
    keys = [key for what in CHOICES.values() for key in (what.address, *what.older)]
    assert len(set(keys)) == len(keys)


def test_the_themes_are_those_that_are_drawn():
    assert set(groups.THEME_NAMES) == set(THEMES)
