"""What holds for every kind of file that people write: where it lies, and how it is refused."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from lensyard.cli import group
from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.settings.files import ASSIGNMENTS, VENUES

KINDS: list[Any] = [VENUES, ASSIGNMENTS]
every_kind = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.noun)


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    """A folder of one's own for saved files."""
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))


@every_kind
@pytest.mark.parametrize(
    "name", ["../secret", "/etc/not-here", "a/b.toml", "A Name", "", "..", "x\0y", "no.toml"]
)
def test_a_name_never_leads_out_of_its_folders(kind, name):
    with pytest.raises(InvalidInputError, match=f"no {kind.noun} file"):
        kind.load(name)


@every_kind
def test_an_unknown_name_gets_the_nearest_and_no_empty_one(kind):
    known = next(iter(kind.names()))
    with pytest.raises(UnknownNameError, match=f"Did you mean '{known}'") as caught:
        kind.load(f"{known}x")
    assert caught.value.known == tuple(kind.names())
    assert all(caught.value.known)


@every_kind
def test_the_users_own_file_wins_over_the_bundled_one(kind):
    known = list(kind.names())
    kind.saved_dir().mkdir(parents=True)
    text = kind.text(kind.path(known[0]))
    (kind.saved_dir() / f"{known[1]}.toml").write_text(text, encoding="utf-8")
    (kind.saved_dir() / "Not A Name.toml").write_text(text, encoding="utf-8")
    assert kind.load(known[1]) == kind.load(known[0])
    assert set(kind.names()) == set(known)


@every_kind
def test_a_file_is_read_again_when_it_has_changed(kind, tmp_path):
    path = tmp_path / "own.toml"
    for name in list(kind.names())[:2]:
        path.write_text(kind.text(kind.path(name)), encoding="utf-8")
        assert kind.load(path) == kind.load(name)


@every_kind
@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"#" * (VENUES.max_bytes + 1), "larger than 256 KB"),
        (b"a = 1\nb = '\xff'", "line 2.*UTF-8"),
        (b"a = 1\n\nb =\n", "line 3: .*expected TOML"),
        (b"a = " + b"[" * 100_000, "nested too deeply"),
    ],
)
def test_what_is_no_toml_text_of_a_few_kilobytes_is_refused(kind, tmp_path, raw, message):
    path = tmp_path / "own.toml"
    path.write_bytes(raw)
    with pytest.raises(InvalidInputError, match=message):
        kind.load(path)


@every_kind
def test_a_folder_is_no_file_and_a_byte_order_mark_no_problem(kind, tmp_path):
    with pytest.raises(InvalidInputError, match=f"no {kind.noun} file"):
        kind.load(tmp_path)
    name = next(iter(kind.names()))
    path = tmp_path / "own.toml"
    path.write_bytes(b"\xef\xbb\xbf" + kind.path(name).read_bytes())
    assert kind.load(path) == kind.load(name)


@every_kind
def test_every_line_of_a_refusal_names_the_file(kind, tmp_path):
    path = tmp_path / "own.toml"
    path.write_text('nme = "x"\ncoverd = true\n', encoding="utf-8")
    with pytest.raises(InvalidInputError) as caught:
        kind.load(path)
    lines = str(caught.value).splitlines()
    assert lines[0] == f"{path} is not a usable {kind.noun}:"
    assert all(re.match(rf"  {re.escape(str(path))}, line \d+: ", line) for line in lines[1:])
    assert "did you mean 'name'?" in str(caught.value)


scalars = st.one_of(
    st.integers(-9, 9),
    st.booleans(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.sampled_from("ab#[]{},='. \n"), max_size=8),
)


def as_toml(value):
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{quoted(k)} = {as_toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[\n" + ",\n".join(as_toml(v) for v in value) + "\n]"
    return quoted(value) if isinstance(value, str) else repr(value)


def quoted(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


@pytest.mark.slow
@given(
    document=st.dictionaries(
        st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=6),
        st.recursive(
            scalars,
            lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("ab"), scalars),
            max_leaves=6,
        ),
        max_size=5,
    )
)
def test_every_key_that_is_none_is_named_at_its_line_in_any_file(document):
    text = "".join(f"# about it\n{quoted(k)} = {as_toml(v)}\n" for k, v in document.items())
    assert tomllib.loads(text) == document
    lines = text.split("\n")
    found = [issue for issue in VENUES.read(text).issues if "is no key" in issue.message]
    assert [lines[issue.line - 1].partition(" = ")[0] for issue in found] == [
        quoted(key) for key in document
    ]


@every_kind
@pytest.mark.parametrize("text", ["", "#", "[", "= 1", "a", "a = ", "[[x", 'a = "', "a = [1", "}"])
def test_a_broken_text_has_an_issue_and_no_value(kind, text):
    reading = kind.read(text)
    assert reading.value is None
    assert reading.issues


def new(kind, name):
    """What ``lensyard venue new`` or ``assignment new`` does."""
    return CliRunner().invoke(group, [kind.noun, "new", name])


@pytest.mark.parametrize(("kind", "count"), [(VENUES, 39), (ASSIGNMENTS, 24)])
def test_the_template_explains_every_key_and_shows_a_value(kind, count):
    """A key stands under its comment, which ends with what is expected and what holds without."""
    text = new(kind, "Our field").stdout
    entries = re.findall(r"((?:^# .*\n)+)#?(\w+) = (.+)$", text, flags=re.MULTILINE)
    assert len(entries) == len(re.findall(r"^#?\w+ = ", text, flags=re.MULTILINE)) == count
    for about, key, value in entries:
        assert "Expected: " in about.replace("\n# ", " "), key
        assert value.strip(), key


@every_kind
@pytest.mark.parametrize("name", ["", "  ", "a\nb", "x" * 81, "\x00"])
def test_a_name_that_cannot_stand_in_a_file_is_refused(kind, name):
    assert "1 to 80 printable characters" in str(new(kind, name).exception)


def test_pydantic_is_imported_only_when_a_file_is_read():
    code = (
        "import sys\n"
        "from lensyard.settings.files import ASSIGNMENTS\n"
        "from lensyard.settings.files import VENUES\n"
        "before = bool(VENUES.names()) and 'pydantic' in sys.modules\n"
        "ASSIGNMENTS.load('team')\n"
        "print(before, 'pydantic' in sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.split() == ["False", "True"]
