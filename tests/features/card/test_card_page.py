"""The card as a file: small, alone, closed to the network, and the same for the same inputs."""

import base64
import hashlib
import re
from dataclasses import replace

import pytest
from tests.support.card_planes import bytes_in, facts_in

from lensyard.domain.assignment import Assignment, MustHave
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.card import report
from lensyard.features.card.compute import card_content
from lensyard.features.card.report import card_html
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest

MARKUP = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def content():
    venue = replace(standard_venue("pro"), name=f"Larkmeadow {MARKUP}", notes=(MARKUP,))
    task = Assignment(
        f"paper {MARKUP}", must_have=(MustHave("own", f"a frame {MARKUP}", f"any {MARKUP}"),)
    )
    return card_content(load_context(), PlanRequest(DEMO_KIT, venue, task), longest_yd=1)


@pytest.fixture(scope="module")
def html(content):
    return card_html(content)


@pytest.mark.slow
def test_the_same_card_gives_the_same_bytes(content, html):
    assert card_html(content) == html


@pytest.mark.slow
def test_the_page_holds_its_tables_and_facts(content, html):
    assert bytes_in(html, "tables") == content.packed.payload
    facts = facts_in(html)
    assert facts["key"] == content.solved.key
    assert ["House rules", MARKUP] in facts["facts"]  # set as text by the script
    assert facts["cautions"][-1].endswith("this is only a reminder.")


@pytest.mark.slow
def test_the_policy_lets_the_page_s_own_script_and_style_run_and_nothing_else(html):
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)
    assert policy is not None
    said = dict(part.split(" ", 1) for part in policy[1].split("; "))
    assert said["default-src"] == "'none'"
    scripts = re.findall(r"<script>(.*?)</script>", html, re.DOTALL)
    styles = re.findall(r"<style>(.*?)</style>", html, re.DOTALL)
    assert (len(scripts), len(styles)) == (1, 1)
    for directive, text in (("script-src", scripts[0]), ("style-src", styles[0])):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert said[directive] == f"'sha256-{digest}'"
    assert set(said) == {"default-src", "script-src", "style-src", "base-uri", "form-action"}


@pytest.mark.slow
def test_nothing_points_out_of_the_file_and_nobody_s_words_are_markup(html):
    assert re.findall(r'https?://[^"\s]+', html) == ["http://www.w3.org/2000/svg"]
    outside = r"<(?:link|img|iframe|object|embed|base|form)\b|\bsrc=|@import|url\((?!#)"
    assert re.search(outside, html) is None
    # Neither would pass the policy.
    assert re.search(r"<[^>]*\s(?:on\w+|style)=", html) is None
    assert MARKUP not in html
    assert "&lt;script&gt;" in html  # the title, escaped
    assert "innerHTML" not in html
    assert "insertAdjacentHTML" not in html


@pytest.mark.slow
def test_the_field_takes_its_colors_from_the_page(html):
    svg = html[html.index("<svg") : html.index("</svg>")]
    assert re.search(r'="#[0-9A-Fa-f]{6}"', svg) is None
    assert "var(--field)" in svg


@pytest.mark.slow
def test_a_card_that_is_too_large_is_refused(content, monkeypatch):
    monkeypatch.setattr(report, "LARGEST_BYTES", 10_000)
    with pytest.raises(InvalidInputError, match="10,000"):
        card_html(content)
