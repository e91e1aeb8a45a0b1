"""Where the play is likely to end along the field, from an answer.

Where the play is likely to end along the field, as bars from yard line to yard line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lensyard.domain.field import FIELD_LENGTH_YD
from lensyard.errors import InvalidInputError
from lensyard.features.next_play.answer import NextAnswer
from lensyard.render.svg import FONT_FAMILY, element, group, number, polyline, text
from lensyard.render.theme import Theme

_SHOWN_SHARE = 0.002


@dataclass(frozen=True, slots=True)
class GainPlot:
    """What is drawn.

    Attributes
    ----------
    p_by_yard
        Probability that the play ends at each yard of the play frame, from 0 to 120; ends in an
        end zone are at its yards. Sums to 1.
    line_of_scrimmage_x_yd, line_to_gain_x_yd
        In the play frame. [yd]
    said
        The same in words.
    """

    p_by_yard: tuple[float, ...]
    line_of_scrimmage_x_yd: float
    line_to_gain_x_yd: float
    said: str

    def __post_init__(self) -> None:
        """Refuse what is no distribution along the field."""
        if len(self.p_by_yard) != round(FIELD_LENGTH_YD) + 1 or min(self.p_by_yard) < 0:
            raise InvalidInputError("a gain plot needs one probability for each yard from 0 to 120")


def gain_rows(plot: GainPlot) -> tuple[tuple[str, ...], list[tuple[object, ...]]]:
    """Return the figures behind the picture: yards from the line of scrimmage, and probability."""
    rows: list[tuple[object, ...]] = [
        (round(x - plot.line_of_scrimmage_x_yd), round(p, 6))
        for x, p in enumerate(plot.p_by_yard)
        if p > 0
    ]
    return ("yards_past_line_of_scrimmage", "p_ends_there"), rows


def gain_svg(plot: GainPlot, *, theme: Theme, wide: bool = True) -> str:
    """Return the picture as SVG text, for a wide screen or a narrow one."""
    width, height = (900.0, 230.0) if wide else (380.0, 220.0)
    font = 13.0
    left, right, top, bottom = 14.0, 14.0, 34.0, 30.0
    first, last = _span(plot)
    scale_x = (width - left - right) / (last - first)
    peak = max(plot.p_by_yard)
    scale_y = (height - top - bottom) / peak

    def px(x_yd: float) -> float:
        return left + (x_yd - first) * scale_x

    base = height - bottom
    points = [(px(first), base)]
    for x in range(first, last + 1):
        y = base - plot.p_by_yard[x] * scale_y
        points += [(px(x - 0.5), y), (px(x + 0.5), y)]
    points.append((px(last), base))
    area = element(
        "path",
        d=polyline(points, closed=True),
        fill=theme.band[2],
        stroke=theme.band_edge,
        stroke_width=1.2,
    )
    marks = _marks(plot, px, base=base, theme=theme, span=(first, last))
    step = 10 if (last - first) * (900 / width) > 45 else 5
    return element(
        "svg",
        element("rect", width=width, height=height, fill=theme.page)
        + group([area, *marks, *_axis(plot, px, base, step, (first, last))], font_size=font),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        font_family=FONT_FAMILY,
        fill=theme.ink,
    )


def _span(plot: GainPlot) -> tuple[int, int]:
    """The yards worth showing, whole tens around what is likely."""
    likely = [x for x, p in enumerate(plot.p_by_yard) if p >= _SHOWN_SHARE]
    low, high = min(likely), max(likely)
    low = min(low, round(plot.line_of_scrimmage_x_yd) - 3)
    high = max(high, round(plot.line_to_gain_x_yd) + 3)
    return max(low - 2, 0), min(high + 2, len(plot.p_by_yard) - 1)


def _marks(
    plot: GainPlot, px: object, *, base: float, theme: Theme, span: tuple[int, int]
) -> list[str]:
    parts = []
    lines = (
        (plot.line_of_scrimmage_x_yd, "ball", None, "end"),
        (plot.line_to_gain_x_yd, "line to gain", "6 4", "start"),
    )
    for x, words, dash, anchor in lines:
        at = px(x)  # type: ignore[operator]
        parts.append(
            element(
                "line",
                x1=at,
                x2=at,
                y1=22.0,
                y2=base,
                stroke=theme.ink,
                stroke_width=2.0,
                stroke_dasharray=dash,
            )
        )
        shift = -5.0 if anchor == "end" else 5.0
        parts.append(text(words, (at + shift, 18.0), text_anchor=anchor, font_weight="600"))
    return parts


def _axis(
    plot: GainPlot, px: object, base: float, step: int, span: tuple[int, int]
) -> Sequence[str]:
    start = round(plot.line_of_scrimmage_x_yd)
    parts = []
    for x in range(span[0], span[1] + 1):
        gain = x - start
        if gain % step:
            continue
        at = px(x)  # type: ignore[operator]
        parts.append(text(f"{gain:+d}" if gain else "0", (at, base + 19.0), text_anchor="middle"))
    return parts


def gain_plot(answer: NextAnswer) -> GainPlot:
    """Return what is drawn of the play's end; a pass that falls counts where the ball came down."""
    situation, outcome = answer.request.situation, answer.outcome
    along = answer.masses.plain.sum(axis=1).astype(float)
    along = along / along.sum()
    return GainPlot(
        p_by_yard=tuple(along.tolist()),
        line_of_scrimmage_x_yd=situation.line_of_scrimmage_x_yd,
        line_to_gain_x_yd=situation.line_to_gain_x_yd,
        said=(
            "Where the action ends, in yards from the ball, passes that fall where they come "
            f"down. Half of the plays gain {outcome.gain_p50_yd} yd or more; one in ten gains "
            f"{outcome.gain_p90_yd} or more, one in ten {outcome.gain_p10_yd} or less."
        ),
    )
