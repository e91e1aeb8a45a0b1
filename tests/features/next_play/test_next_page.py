"""The wiring of the page "Next play": widgets, address and answer move together."""

import json
import re
from html import unescape

import pytest

from lensyard.cli import main
from lensyard.dashboard import session
from lensyard.dashboard.controls import GOAL, Controls
from lensyard.domain.situation import ball_text
from lensyard.render.words import percent


def query_of(app):
    query: dict[str, str] = {}
    for name, values in app.query_params.items():
        query[name] = values if isinstance(values, str) else values[-1]
    return query


def segment(app, name):
    return app.button_group(key=session.key_of(name))


def rows_of(app, title):
    """The cells of every row of a table of the page."""
    table = next(h.body for h in app.get("html") if f"<caption>{title}</caption>" in h.body)
    rows = re.findall(r"<tr>(.*?)</tr>", table)[1:]
    return [[unescape(cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t", row)] for row in rows]


def spots_of(app):
    """Place and share of every spot, best first."""
    return [(cells[1], cells[2].split(" ")[0]) for cells in rows_of(app, "Spots, best first")]


@pytest.mark.slow
def test_the_page_opens_with_an_answer(open_page, said, run):
    app = open_page()
    assert not app.exception
    assert "1st and 10 at its own 25" in said(app)
    _, out, _ = run("next", "--down", "1", "--distance", "10", "--ball", "own25")
    assert " ".join(out.split("\n\n")[0].split()).rstrip(".") in said(app)


@pytest.mark.slow
@pytest.mark.parametrize(
    "asked",
    [
        {"down": "4", "distance": "8", "ball": "opp22"},
        {"down": "4", "distance": "12", "ball": "own38"},
        {"down": "1", "ball": "own25", "standing": "right:opp29"},
        {"down": "1", "ball": "opp25", "rules": "high-school", "standing": "left:own12"},
        {"down": "1", "ball": "opp25", "rules": "high-school", "lens": ["70-200", "300"],
         "standing": "left:own12"},
        {"down": "1", "ball": "own25", "lens": ["70-200"]},
        {"down": "4", "distance": "8", "ball": "opp22", "standing": "left:own20"},
        {"play": "kickoff", "rules": "high-school"},
        {"play": "try", "standing": "end:left12"},
    ],
)  # fmt: skip
def test_page_and_command_have_one_headline(open_page, said, run, asked):
    app = open_page("next-play", **asked)
    assert not app.exception
    words = []
    for name, value in asked.items():
        for one in [value] if isinstance(value, str) else value:
            words += [f"--{name}", one]
    _, out, _ = run("next", *words)
    assert " ".join(out.split("\n\n")[0].split()).rstrip(".") in said(app)


def test_the_answer_stands_above_the_controls_and_the_field_below(open_page):
    app = open_page()
    order: list[str] = []

    def walk(block):
        for child in block.children.values():
            order.append(getattr(child, "key", None) or getattr(child, "body", "")[:27])
            if hasattr(child, "children"):
                walk(child)

    walk(app.main)
    lead = next(i for i, name in enumerate(order) if name.startswith('<section class="ly-lead"'))
    assert lead < order.index("next_down") < order.index(session.FIELD_KEY)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "value", "situation"),
    [
        ("down", 3, "3rd and 7 at the opponent's 35"),
        ("distance_yd", 2, "1st and 2 at the opponent's 35"),
        ("distance_yd", GOAL, "1st and goal at the opponent's 35"),
    ],
)
def test_a_choice_changes_the_situation(open_page, said, name, value, situation):
    app = open_page(down="1", distance="7", ball="opp35")
    segment(app, name).set_value(value).run()
    assert not app.exception
    assert situation in said(app)


@pytest.mark.slow
def test_the_slider_and_its_buttons_move_the_ball(open_page, said):
    app = open_page(down="2", distance="5", ball="own40")
    app.select_slider(key="next_yardline_100").set_value(30).run()
    assert "2nd and 5 at the opponent's 30" in said(app)
    app.button(key="ly_ahead").click().run()
    app.button(key="ly_ahead").click().run()
    app.button(key="ly_back").click().run()
    assert "at the opponent's 29" in said(app)
    assert app.select_slider(key="next_yardline_100").value == 29


def test_choices_that_follow_from_a_choice_are_shown(open_page):
    app = open_page(down="3", distance="8", ball="opp9")
    segment(app, "down").set_value(1).run()
    assert segment(app, "distance_yd").value == GOAL


@pytest.mark.slow
def test_the_address_follows_the_widgets(open_page):
    app = open_page(down="3", distance="7", ball="opp35")
    segment(app, "hash_mark").set_value("left").run()
    segment(app, "faces").set_value("defense").run()
    assert query_of(app) == {
        "down": "3",
        "distance": "7",
        "ball": "opp35",
        "hash": "left",
        "faces": "defense",
    }


@pytest.mark.slow
def test_an_address_sets_every_widget(open_page):
    app = open_page(
        down="4",
        distance="27",
        ball="own12",
        hash="right",
        standing="left:own40",
        lens=["300", "70-200"],
        body="1.5",
        bodies="1",
        converter="1.7",
        rules="college",
        team_area="40",
        faces="defense",
        score="-3",
        quarter="4",
        clock="1:59",
        theme="night",
    )
    assert not app.exception
    assert not app.warning
    values = {
        "down": 4,
        "distance_yd": 27,
        "hash_mark": "right",
        "bodies": 1,
        "converter": 1.7,
        "rules": "college",
        "team_area": 40,
        "faces": "defense",
        "quarter": 4,
        "theme": "night",
    }
    assert {name: segment(app, name).value for name in values} == values
    assert app.select_slider(key="next_yardline_100").value == 88
    assert app.text_input(key="next_lenses").value == "300, 70-200"
    assert app.text_input(key="next_crop_factors").value == "1.5"
    assert app.text_input(key="next_clock").value == "1:59"
    assert app.number_input(key="next_score_diff").value == -3
    assert app.text_input(key="next_standing").value == "left:own40"


def many_situations():
    """Situations from all over the field, drawn with a fixed seed, as options and as addresses."""
    import numpy as np

    rng = np.random.default_rng(20261125)
    kits = (["70-200", "400"], ["70-200"], ["24-70", "300"], ["100-400"])
    found: list[dict[str, str | list[str]]] = []
    for _ in range(24):
        yardline = int(rng.integers(1, 100))
        options: dict[str, str | list[str]] = {
            "down": str(rng.integers(1, 5)),
            "distance": str(min(int(rng.integers(1, 16)), yardline)),
            "ball": ball_text(yardline),
            "rules": str(rng.choice(["pro", "college", "high-school"])),
            "faces": str(rng.choice(["offense", "defense"])),
            "score": str(rng.integers(-14, 15)),
            "lens": kits[int(rng.integers(len(kits)))],
        }
        if rng.random() < 0.7:
            options["hash"] = str(rng.choice(["left", "middle", "right"]))
        found.append(options)
    return found


@pytest.mark.slow
def test_page_and_command_line_rank_alike_in_many_situations(open_page, capsys):
    app = open_page()
    for options in many_situations():
        words = []
        for name, value in options.items():
            for one in [value] if isinstance(value, str) else value:
                words += [f"--{name}", one]
        main(["next", *words, "--json"])
        document = json.loads(capsys.readouterr().out)
        for name in list(app.query_params.keys()):
            del app.query_params[name]
        for name, value in options.items():
            app.query_params[name] = value
        app.run()
        assert not app.error, options
        spots = [(spot["label"], percent(spot["p_usable"])) for spot in document["spots"]]
        assert spots_of(app) == spots, options
        assert len(rows_of(app, "What usual habits would get")) == len(document["habits"])


@pytest.mark.slow
def test_a_choice_outlives_an_address_that_lags_behind(open_page, said):
    app = open_page(down="1", distance="10", ball="own25")
    segment(app, "down").set_value(2).run()
    app.query_params["down"] = "1"  # the browser had not heard of the second down yet
    segment(app, "distance_yd").set_value(6).run()
    assert "2nd and 6" in said(app)
    assert query_of(app)["down"] == "2"


@pytest.mark.slow
def test_an_address_that_changes_by_itself_wins(open_page, said):
    app = open_page(down="1", distance="10", ball="own25")
    segment(app, "down").set_value(2).run()
    app.query_params["down"] = "1"  # the way back
    app.run()
    assert "1st and 10" in said(app)
    assert segment(app, "down").value == 1


@pytest.mark.slow
def test_a_kit_that_is_ready_is_taken_with_one_tap(open_page, said):
    app = open_page()
    app.button(key="ly_kit_3").click().run()
    assert "300 x1.4" in said(app)
    assert app.text_input(key="next_lenses").value == "70-200, 300"
    assert query_of(app)["converter"] == "1.4"


@pytest.mark.slow
def test_who_says_where_they_stand_reads_the_walk(open_page, said):
    app = open_page(down="1", distance="10", ball="own40")
    assert "Walk" not in said(app)
    app.text_input(key="next_standing").set_value("left:own40").run()
    assert "Walk" in said(app)
    assert "offense's left sideline, own 40" in [caption.value for caption in app.caption]
    app.button(key="ly_no_standing").click().run()
    assert "Walk" not in said(app)


def test_a_bad_address_is_a_sentence_in_place(open_page, said):
    app = open_page(down="7", ball="opp70", distance="3")
    assert not app.exception
    (warning,) = app.warning
    assert "Down must be between 1 and 4; got 7." in warning.value
    assert "own1 to own49" in warning.value
    assert "1st and 3 at its own 25" in said(app)
    # The address stays as it was, so that it can be read and mended; a choice replaces it.
    assert query_of(app)["ball"] == "opp70"
    segment(app, "down").set_value(2).run()
    assert not app.warning
    assert query_of(app)["ball"] == "own25"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("lenses", "wide", "Cannot read lens from"),
        ("lenses", "8-15", "no play is usable"),
        ("standing", "on the roof", "Cannot read standing"),
        ("clock", "soon", "Cannot read clock"),
        ("crop_factors", "big", "Cannot read crop factor"),
    ],
)
def test_what_cannot_be_is_a_sentence_and_can_be_mended(open_page, said, name, text, told):
    app = open_page()
    usual = app.text_input(key=f"next_{name}").value
    app.text_input(key=f"next_{name}").set_value(text).run()
    assert not app.exception
    (error,) = app.error
    assert told in error.value.replace("\\", "")
    assert "usable" not in said(app)
    assert app.get("bidi_component")  # the field stays, so that a tap can mend it
    app.text_input(key=f"next_{name}").set_value(usual).run()
    assert not app.error
    assert "of plays give a usable frame" in said(app)


def test_what_people_type_is_never_markup(open_page):
    app = open_page(ball="[here](http://example.invalid)")
    assert "](" not in app.warning[0].value
    assert "://" not in app.warning[0].value


@pytest.mark.slow
def test_looks_change_the_colors(open_page):
    from lensyard.render.theme import THEMES

    app = open_page()
    for name, theme in THEMES.items():
        segment(app, "theme").set_value(name).run()
        style = next(h.body for h in app.get("html") if h.body.startswith("<style"))
        for role, color in theme.colors().items():
            assert f"--ly-{role.replace('_', '-')}:{color}" in style


def test_a_kick_is_asked_for_with_the_control_and_answered_first(open_page, said):
    app = open_page(play="kickoff", rules="high-school")
    assert not app.exception
    text = said(app)
    assert "Kickoff from its own 40: stand on the" in text
    assert "Counted on professional kickoffs from the 35" in text
    segment(app, "play").set_value(Controls().play).run()
    assert not app.exception
    assert "play" not in query_of(app)
