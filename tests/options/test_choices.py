"""A choice is said once: commands, widgets and the address have the same limits and names."""

import json
from collections import defaultdict

import click
import pytest
from click.testing import CliRunner
from streamlit.testing.v1 import AppTest
from tests.support.logs import run

from lensyard.cli import group
from lensyard.dashboard.controls import CHOICES, GOAL, USUAL, Controls, from_address, to_address

# The ball has a slider; what is reviewed is chosen from the games in the log.
WITH_A_WIDGET = [name for name in CHOICES if name not in ("yardline_100", "game", "season")]
BEFORE = ("plan", "gear", "crew", "zones", "light", "sheet", "card")
ON_THE_FIELD = (*BEFORE, "next", "review", "drill")
NEEDED = {"next": ("--down", "1", "--ball", "own25"), "gear": ("--kit", "400", "--kit", "300")}
OTHER_MEANING = {
    *(("gear", "--kit"), ("crew", "--kit")),
    *(("zones", "--down"), ("zones", "--distance"), ("zones", "--top"), ("light", "--distance")),
    *(("crew", "--game"), ("crew", "--out"), ("card", "--out"), ("sheet", "--out")),
}
"""Flags that mean another thing where a command has nothing to do with the shared choice."""


def commands(command, path=""):
    """Every command that can be called, with its name."""
    if not isinstance(command, click.Group):
        yield path, command
        return
    context = click.Context(command)
    for name in command.list_commands(context):
        yield from commands(command.get_command(context, name), f"{path} {name}".strip())


FLAGS = defaultdict(dict)
"""Flag -> command -> its option."""
for path, command in commands(group):
    for option in command.params:
        for flag in option.opts:
            FLAGS[flag][path] = option


def test_a_flag_is_the_same_on_every_command_that_asks_about_the_field():
    for flag in set(FLAGS) - {"--json", "--plot"}:
        said = {
            (option.help, option.multiple, tuple(getattr(option.type, "choices", ())))
            for path, option in FLAGS[flag].items()
            if path in ON_THE_FIELD and (path, flag) not in OTHER_MEANING
        }
        assert len(said) <= 1, flag


def outside(what):
    """Return texts beyond the limits of a choice."""
    if hasattr(what.kind, "low"):
        return [str(what.kind.low - 1), str(what.kind.high + 1), "nan", "soon"]
    return ["no-such-name"] if hasattr(what.kind, "known") or hasattr(what.kind, "yes") else []


def limits(what):
    """Return the least and the largest value of a number."""
    return (what.kind.low, what.kind.high) if hasattr(what.kind, "low") else ()


# A model is a file as well (exit 1), the theme is a choice of pages; a flag takes no value.
REFUSED = [
    name
    for name, what in CHOICES.items()
    if outside(what)
    and name not in ("model_name", "theme")
    and not getattr(what.kind, "is_flag", False)
]


@pytest.mark.parametrize("name", REFUSED)
def test_a_command_refuses_what_lies_beyond_the_limits(name, capsys):
    what = CHOICES[name]
    asking = [path for path in FLAGS[what.flag] if (path, what.flag) not in OTHER_MEANING]
    path = next(path for path in ("next", *ON_THE_FIELD, *asking) if path in asking)
    for text in outside(what):
        needed = () if what.flag in NEEDED.get(path, ()) else NEEDED.get(path, ())
        code, out, err = run(capsys, *path.split(), *needed, f"{what.flag}={text}")
        assert (code, out) == (2, ""), text
        assert text.removesuffix(".0") in err


@pytest.mark.parametrize("name", CHOICES)
def test_the_address_has_the_limits_and_the_default_of_the_table(name):
    what = CHOICES[name]
    assert getattr(from_address({}).controls, name) == getattr(Controls(), name)
    for text in outside(what):
        address = from_address({what.address: [text]})
        assert len(address.issues) == 1
        assert address.controls == Controls()
    for key in (what.address, *what.older):
        for value in (*what.offered, *limits(what)):
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
        assert (shown.min, shown.max) == (what.kind.low, what.kind.high)
    elif shown.type in ("button_group", "selectbox") and hasattr(what.kind, "known"):
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


def kit_of(*arguments):
    """The kit that ``lensyard light`` answers for."""
    place = ("light", "--venue", "brindle-prairie", "--at", "2026-10-03T15:30", "--json")
    done = CliRunner().invoke(group, [*place, *arguments], catch_exceptions=False)
    return json.loads(done.stdout)["kit"]


@pytest.mark.parametrize(
    ("kit", "lenses"),
    [
        ("70-200 + 300 x1.4", ("70-200", "300 x1.4")),
        ("70-200 on 1.5 + 400", ("70-200 on 1.5", "400")),
        ("24-70 + 70-200 + 400, 2 bodies", ("24-70", "70-200", "400")),
    ],
)
def test_lens_and_kit_understand_the_same_texts(kit, lenses):
    bodies = ("--bodies", "2") if "bodies" in kit else ()
    repeated = [argument for lens in lenses for argument in ("--lens", lens)]
    said = kit_of("--kit", kit)
    assert said == kit_of(*repeated, *bodies)
    assert said == kit_of("--lens", kit.partition(",")[0], *bodies)


@pytest.mark.parametrize("beside", [("--lens", "400"), ("--bodies", "1"), ("--converter", "1.4")])
def test_a_kit_beside_what_it_already_says_is_a_conflict(beside, capsys):
    code, _, err = run(capsys, "plan", "--kit", "70-200", *beside)
    assert code == 2
    assert f"--kit already says what {beside[0]} would" in err


def test_what_a_lens_says_itself_wins_over_what_is_said_for_all():
    said = kit_of("--lens", "70-200", "--lens", "400 on 1.5", "--body", "1.6")
    assert said == kit_of("--kit", "70-200 on 1.6 + 400 on 1.5")
