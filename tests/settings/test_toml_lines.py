"""Every key of a TOML text has the line on which a person finds it."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.settings.reading import key_lines, line_of

TEXT = '''# a comment with a [header] and a = sign
name = "x # no comment" # a comment
a.b."c d" = 1
long = """
foo = 3
[not.a.table]
"""
items = [
  1, # one
  "a]",
  [2,
   3],
]
inline = { p = 1, q = { r = [1, 2] } }
[t."u v"]
when = 1979-05-27T07:32:00Z
[[closed]]
edge = 'a'
[closed.sub]
z = 1
[[closed]]
edge = 'b'
'''


def paths(value, at=()):
    inner = value.items() if isinstance(value, dict) else ()
    inner = enumerate(value) if isinstance(value, list) else inner
    for key, content in inner:
        yield (*at, key)
        yield from paths(content, (*at, key))


def test_lines_are_those_that_a_person_counts():
    lines = key_lines(TEXT)
    expected = {
        ("name",): 2,
        ("a", "b", "c d"): 3,
        ("long",): 4,
        ("items",): 8,
        ("items", 1): 10,
        ("items", 2, 1): 12,
        ("inline", "q", "r", 1): 14,
        ("t", "u v"): 15,
        ("t", "u v", "when"): 16,
        ("closed", 0, "edge"): 18,
        ("closed", 0, "sub", "z"): 20,
        ("closed", 1): 21,
        ("closed", 1, "edge"): 22,
    }
    assert {path: lines[path] for path in expected} == expected


def test_every_path_that_the_reader_finds_has_a_line_and_no_other_has():
    assert set(key_lines(TEXT)) - {()} == set(paths(tomllib.loads(TEXT)))


keys = st.one_of(
    st.from_regex(r"[A-Za-z0-9_-]{1,6}", fullmatch=True),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=6),
)
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
        keys,
        st.recursive(
            scalars,
            lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, scalars, max_size=3),
            max_leaves=6,
        ),
        max_size=5,
    )
)
def test_lines_point_at_their_key_in_any_document(document):
    text = "".join(f"# about it\n{quoted(k)} = {as_toml(v)}\n" for k, v in document.items())
    assert tomllib.loads(text) == document
    lines = key_lines(text)
    # An empty array or table has no path of its own inside it.
    assert set(lines) - {()} == set(paths(document))
    written = text.split("\n")
    for path, line in lines.items():
        if len(path) == 1:
            assert written[line - 1].startswith(quoted(str(path[0])))


@pytest.mark.parametrize("text", ["", "#", "[", "= 1", "a", "a = ", "[[x", 'a = "', "a = [1", "}"])
def test_a_broken_text_ends_without_an_error(text):
    assert isinstance(key_lines(text), dict)


def test_what_is_not_written_down_has_the_line_of_what_is_around_it():
    lines = key_lines(TEXT)
    assert line_of(lines, ("closed", 1, "missing")) == 21
    assert line_of(lines, ("nothing",)) == 1
