"""The picture of a review."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from lensyard.errors import InvalidInputError
from lensyard.features.review.charts import (
    DistanceBar,
    ReviewPlot,
    ShareBar,
    ZoneBars,
    review_figure,
    save_review_plot,
)
from lensyard.features.review.paper import ReviewPage, save_review_page

SHARE = ShareBar(0.4, 0.2, 0.6)
PLOT = ReviewPlot(
    title="Herons at Otters",
    subtitle="60 plays",
    zones=(ZoneBars("red zone 20-6", 12, 0.5, SHARE, SHARE),),
    distances=(DistanceBar(10, 20, SHARE, 0.4), DistanceBar(20, 30, SHARE, 0.3)),
    default_reach_yd=40.0,
    own_reach_yd=36.0,
    note="who says so",
)


def texts(plot: ReviewPlot) -> str:
    from matplotlib.text import Text

    return "\n".join(t.get_text() for t in review_figure(plot).findobj(Text))  # type: ignore[attr-defined]


def test_it_says_what_it_shows() -> None:
    found = texts(PLOT)
    for words in ("Herons at Otters", "red zone 20-6\n12 plays", "usable", "kept", "own reach",
                  "usual reach", "who says so"):  # fmt: skip
        assert words in found


def test_without_keepers_there_is_no_second_panel() -> None:
    plain = replace(PLOT, distances=(), own_reach_yd=None)
    assert len(review_figure(plain).axes) == 1
    assert "own reach" not in texts(plain)


def test_a_share_outside_its_interval_and_an_empty_plot_are_refused() -> None:
    with pytest.raises(InvalidInputError):
        ShareBar(0.7, 0.2, 0.6)
    with pytest.raises(InvalidInputError):
        replace(PLOT, zones=())


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_each_format_is_written_the_same_each_time(tmp_path: Path, suffix: str) -> None:
    first, second = tmp_path / f"1{suffix}", tmp_path / f"2{suffix}"
    for path in (first, second):
        save_review_plot(PLOT, path)
    assert first.read_bytes() == second.read_bytes()


def test_lines_beyond_a_page_go_on_the_next(tmp_path: Path) -> None:
    lines = tuple(f"line {i}" for i in range(100))
    for count, name in ((20, "one.pdf"), (100, "more.pdf")):
        save_review_page(ReviewPage(PLOT, lines[:count]), tmp_path / name)
    counts = [
        re.findall(rb"/Count (\d+)", (tmp_path / n).read_bytes()) for n in ("one.pdf", "more.pdf")
    ]
    assert counts == [[b"1"], [b"3"]]
