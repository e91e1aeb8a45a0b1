"""A choice that several commands have is the table's, and the same for all of them."""

import click

from lensyard.cli import group
from lensyard.options import groups, situation
from lensyard.options.choices import choices_of
from lensyard.options.click_options import ChoiceOption

SHARED = {
    what.flag
    for name, one in (vars(groups) | vars(situation)).items()
    if isinstance(one, type) and name.endswith("Options")
    for what in choices_of(one).values()
}
# Flags that mean another thing where a command has nothing to do with the shared choice.
OTHER_MEANING = {
    *(f"data {name} --season" for name in ("import", "check", "fetch", "map")),
    *(
        f"evidence {name} --season"
        for name in (
            *("backtest", "evaluate", "simulate", "tendencies", "build", "advice", "sensitivity"),
        )
    ),
    "venue new --rules",
    "model use --rules",
    "model info --model",
    # Evidence is of the model it was measured on unless another is named.
    *(
        f"evidence {name} --model"
        for name in (
            "show",
            "build",
            "backtest",
            "evaluate",
            "advice",
            "sensitivity",
            "simulate",
            "points",
            "tendencies",
        )
    ),
}


def commands(command, path=""):
    """Every command that can be called, with its name."""
    if not isinstance(command, click.Group):
        yield path, command
        return
    context = click.Context(command)
    for name in command.list_commands(context):
        found = command.get_command(context, name)
        assert found is not None
        yield from commands(found, f"{path} {name}".strip())


def test_no_command_declares_a_shared_choice_by_itself():
    own = {
        f"{path} {flag}"
        for path, command in commands(group)
        for option in command.params
        if isinstance(option, click.Option) and not isinstance(option, ChoiceOption)
        for flag in option.opts
        if flag in SHARED
    }
    assert own <= OTHER_MEANING, sorted(own - OTHER_MEANING)
