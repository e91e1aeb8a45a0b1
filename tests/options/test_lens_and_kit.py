"""--lens and --kit mean the same everywhere."""

from typing import Any

import click
import pytest
from click.testing import CliRunner

from lensyard.domain.kit import parse_kit
from lensyard.options.click_options import options
from lensyard.options.groups import KitOptions, LensOptions


def kit_of_arguments(group_, *arguments):
    """The kit that a command gets."""
    got: list[Any] = []

    @click.command()
    @options(group_)
    def command(**values):
        got.append(next(iter(values.values())).kit())

    CliRunner().invoke(command, arguments, catch_exceptions=False)
    return got[0]


def test_lens_and_kit_understand_the_same_texts():
    for text in ("70-200 + 300 x1.4", "70-200 on 1.5 + 400", "24-70 + 70-200 + 400, 2 bodies"):
        whole = kit_of_arguments(KitOptions, "--kit", text)
        assert whole.mounted == kit_of_arguments(LensOptions, "--lens", text).mounted
        assert whole == parse_kit(text)
        lenses = [part.strip() for part in text.split(",")[0].split("+")]
        repeated = [argument for lens in lenses for argument in ("--lens", lens)]
        assert kit_of_arguments(KitOptions, *repeated).mounted == whole.mounted


@pytest.mark.parametrize("beside", [("--lens", "400"), ("--bodies", "1"), ("--converter", "1.4")])
def test_a_kit_beside_what_it_already_says_is_a_conflict(beside):
    @click.command()
    @options(KitOptions)
    def command(kit):
        raise AssertionError(kit)

    done = CliRunner().invoke(command, ["--kit", "70-200", *beside])
    assert done.exit_code == 2
    assert f"--kit already says what {beside[0]} would" in done.stderr


def test_what_a_lens_says_itself_wins_over_what_is_said_for_all():
    kit = kit_of_arguments(LensOptions, "--lens", "70-200", "--lens", "400 on 1.5", "--body", "1.6")
    assert [mounted.body.crop_factor for mounted in kit.mounted] == [1.6, 1.5]
