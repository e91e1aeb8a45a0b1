"""``lensyard light`` as it is typed."""

import json

import pytest

SCHOOL = ("light", "--venue", "tamarack-fork", "--at")


def test_light_leads_with_the_answer_and_has_the_deferral(run):
    code, out, _ = run(*SCHOOL, "2026-10-09T19:00")
    assert code == 0
    lines = out.splitlines()
    assert lines[0].startswith("No lens of this kit reaches 1/1000 s in quarter 1")
    assert any(line.startswith("Caution: Local rules") for line in lines)
    assert "read as America/Chicago, the venue's zone" in " ".join(out.split())


def test_what_nobody_gave_is_said_and_steps_are_a_camera_s(run):
    lenses = ("--lens", "70-200", "--lens", "400/2.8 x1.4")
    out = " ".join(run(*SCHOOL, "2026-10-09T19:00", *lenses)[1].split())
    assert "Assumed, as nobody gave it: f/2.8 for 70-200 (write 70-200/2.8)." in out
    assert "400 x1.4 f/4" in out
    for odd in ("f/3.9", "9104", "1/703"):
        assert odd not in out


def test_light_as_json_is_one_document(document):
    found = document(
        *("light", "--venue", "brindle-prairie", "--at", "2026-10-03T15:30-05:00"),
        *("--lens", "400/2.8", "--converter", "1.4", "--pixels", "8000", "--wbgt", "90"),
    )
    assert found["lenses"][0]["converter"]["magnification"] == 1.4
    # 8000 pixels over 36 mm, 560 mm at 56 yd: 1.83 m is 20.0 mm and 4,450 pixels.
    assert found["lenses"][0]["player_height_px"] == pytest.approx(4448, abs=5)
    assert any("90.0 F" in caution for caution in found["cautions"])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("suffix", "magic"), [(".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF")]
)
def test_the_plot_is_a_picture_and_the_same_each_time(run, tmp_path, suffix, magic):
    paths = [tmp_path / f"{name}{suffix}" for name in "ab"]
    for path in paths:
        code, out, err = run(*SCHOOL, "2026-10-09T16:00", "--plot", str(path), "--json")
        assert code == 0
        json.loads(out)  # the message about the file goes to standard error
        assert str(path) in " ".join(err.split())
    one, two = (path.read_bytes() for path in paths)
    assert one.startswith(magic)
    assert one == two


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (("--plot", "a.bmp"), ".png, .svg or .pdf"),
        (("--plot", "/nonexistent-folder/a.png"), "cannot write"),
        *((("--shutter", text), "1/1000") for text in ("fast", "0", "-1", "1/0", "nan", "inf")),
    ],
)
def test_what_cannot_be_is_refused(run, arguments, reason):
    code, out, err = run(*SCHOOL, "2026-10-09T16:00", *arguments)
    assert code != 0
    assert out == ""
    assert reason in err
