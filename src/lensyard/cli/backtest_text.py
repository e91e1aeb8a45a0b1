"""The words of ``lensyard backtest``."""

from __future__ import annotations

from lensyard.recommend.rulecard import rule_text
from lensyard.service.backtests import Backtest
from lensyard.service.imports import attribution_lines


def backtest_text(result: Backtest) -> str:
    """Return a backtest as a table for the terminal."""
    lines = [
        f"Season {result.season}, {result.games} games, {result.plays:,} plays; "
        f"{result.request.kit.text}",
        "",
        "policy      usable  value share (95 %)     touchdowns  yards walked a game",
    ]
    for p in result.policies:
        lines.append(
            f"{p.name:<10}  {p.p_usable:6.1%}  {p.value_share:6.1%} ({p.low:.1%}-{p.high:.1%})"
            f"  {p.p_usable_touchdown:9.0%}  {p.walk_yd_per_game:14,.0f}"
        )
    lines.append("")
    for name, (ratio, low, high) in result.over.items():
        lines.append(f"plan over {name}: {ratio:.2f} times the value ({low:.2f}-{high:.2f})")
    lines += [
        "",
        f"The plan expected {result.p_usable_predicted:.1%} of plays usable.",
        "",
        "zone                        plays  usable  expected  20 ahead",
    ]
    for z in result.zones:
        lines.append(
            f"{z.zone:<26} {z.plays:>6,}  {z.p_usable:6.1%}  {z.p_usable_predicted:8.1%}"
            f"  {z.habit_p_usable:8.1%}"
        )
    lines += [
        "",
        f"Rule card: {rule_text(result.card.rule)} "
        f"({result.card.value_share:.1%} of the value in training).",
        f"Better: {rule_text(result.card.inside)} "
        f"({result.card.inside_value_share:.1%} in training).",
        f"Model {result.model['id']}. {result.model['attribution']}",
        *(f"Plays: {line}" for line in attribution_lines([result.season])),
    ]
    return "\n".join(lines)
