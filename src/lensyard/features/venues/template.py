"""The commented venue file to start from."""

from __future__ import annotations

import textwrap

from lensyard.domain.field import rules_named
from lensyard.errors import InvalidInputError
from lensyard.features.venues.file import toml_value
from lensyard.features.venues.schema import EDGE_TABLES, KIND_DEFAULTS, VenueKey, keys_of

_INTRO = """\
A venue for lensyard. A line that begins with "# " explains; one that begins with "#" and a key is \
switched off: take the "#" away to use it.
Ends are A and B, sidelines A and B: choose which end is A; facing end B from there, sideline A is \
on your right hand.
Check the file with: lensyard venue check FILE"""

_TABLE_TEXT = {
    "team_areas": "Team areas: nobody photographs from them.",
    "closed": "Other closed stretches of the perimeter, one [[closed]] for each.",
    "floodlights": "Floodlights. Levels in tables are maintained values; measure if you can.",
    "stands": "Stands that can shade the field.",
    "house_rules": "House rules, as notes that are shown as written.",
}


def new_venue_text(name: str, *, rules: str = "pro") -> str:
    """Return a venue file to start from: every key with what it means, and loadable as it is.

    Parameters
    ----------
    name
        The venue's name, for people; 1 to 80 printable characters.
    rules
        The rule set; setbacks and team areas are filled in from it.

    Raises
    ------
    UnknownNameError
        If there is no such rule set.
    InvalidInputError
        If the name cannot stand in a file.
    """
    if not 0 < len(name.strip()) <= len(name) <= 80 or not name.isprintable():
        raise InvalidInputError(
            f"a venue's name must be 1 to 80 printable characters; got {name[:100]!r}"
        )
    measures = rules_named(rules)
    given = {
        "name": toml_value(name),
        "rules": toml_value(rules),
        "side_setback_yd": toml_value(measures.side_setback_yd),
        "end_setback_yd": toml_value(measures.end_setback_yd),
        "team_areas.from_yard_line": toml_value(measures.team_area_from_yard_line),
        "team_areas.walk_behind": "true",
    }
    parts = [_comment(_INTRO), _keys("", given)]
    parts.append(_table("team_areas", _TABLE_TEXT["team_areas"], given))
    kinds = "; ".join(
        f"{kind}: {usual.front_yd:g}, {usual.depth_yd:g}, "
        f"{toml_value(usual.blocks_view)}, {toml_value(usual.walk_behind)}"
        for kind, usual in KIND_DEFAULTS.items()
    )
    closed = f"{_TABLE_TEXT['closed']} By kind, front_yd, depth_yd, blocks_view and walk_behind "
    closed += f"are: {kinds}; a team area has the rule set's."
    parts.append(_table("closed", closed, {}))
    parts.append(_table("floodlights", _TABLE_TEXT["floodlights"], {}))
    for i, edge in enumerate(EDGE_TABLES):
        parts.append(_table(f"stands.{edge}", _TABLE_TEXT["stands"] if i == 0 else "", {}))
    parts.append(_table("house_rules", _TABLE_TEXT["house_rules"], {}))
    return "\n".join(parts)


def _table(table: str, text: str, given: dict[str, str]) -> str:
    """One table; its header is switched off with its keys when none of them is given."""
    switched_on = any(key.startswith(f"{table}.") for key in given)
    header = f"[[{table}]]" if table == "closed" else f"[{table}]"
    head = f"{'' if switched_on else '#'}{header}\n"
    return (_comment(text) if text else "") + head + _keys(table, given)


def _keys(table: str, given: dict[str, str]) -> str:
    return "".join(_entry(key, given.get(key.dotted)) for key in keys_of(table).values())


def _entry(key: VenueKey, value: str | None) -> str:
    default = "" if key.is_required else f" Default: {key.default}."
    text = _comment(f"{key.text} Expected: {key.expected}.{default}")
    line = f"{key.key} = {key.example if value is None else value}"
    return f"{text}{'#' if value is None else ''}{line}\n"


def _comment(text: str) -> str:
    lines = [
        wrapped
        for paragraph in text.splitlines()
        for wrapped in textwrap.wrap(paragraph, width=94, break_on_hyphens=False)
    ]
    return "".join(f"# {line}\n" for line in lines)
