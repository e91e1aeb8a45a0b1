"""What a checkout answers, recorded, and two such records compared.

    python tests/benchmarks/recorded_answers.py record OUT.json --checkout DIR [--quick]
    python tests/benchmarks/recorded_answers.py compare OLD.json NEW.json

A record runs the command line of ``DIR/src`` in one process. What must stay equal: JSON documents,
text, written files, exit codes and what is refused, in words. Masked are paths, times of the last
two days, UUIDs and the plans' keys. Data and settings lie in a fresh folder, new for each chain.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shlex
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from difflib import unified_diff
from pathlib import Path
from typing import Any

# Written short in the lines below.
SHORT = {
    "@b": "--venue brindle-prairie",
    "@t": "--venue tamarack-fork",
    "@news": "--assignment newspaper",
    "@wire": "--assignment agency",
    "@day": "--at 2026-10-03T15:30",
    "@night": "--at 2026-10-09T19:00",
}
# A chain's lines run in order, with data of their own. Each is a command that gets --json. "~" asks
# for its text, "*" is left out by --quick; after ">" stands a file that it writes.
CHAINS: dict[str, str] = {
    "any field": """
        next --down 1 --ball opp18 --standing right:opp40
        next --down 3 --distance 7 --ball opp35 --standing left:opp20
        next --down 2 --distance 1 --ball own1 --standing ownend:right5
        next --down 1 --ball opp1 --standing end:left12
        next --down 4 --distance 25 --ball own12 --standing right:owncorner
        next --down 2 --distance 14 --ball 50 --standing left:goal+4 --ball-changed-hands
        next --down 1 --ball own25 --standing end:middle --ball-changed-hands
        next --down 3 --distance 2 --ball opp4 --standing left:back --hash right --by value
        ~next --down 2 --distance 8 --ball own44 --standing left:own30 --hash left
        *plan
        *~plan --have touchdown
        drill --seed 12 --length 3 --no-keep --answers stay.txt
        ~drill --seed 4 --length 2 --answers stay.txt
        drill --progress
        evidence backtest --season 2019
        *gear --kit "70-200 + 400" --kit 70-200
        *~gear --kit "70-200 + 400" --kit 70-200
        *crew --shooters 2 --game""",
    "brindle": """
        *plan @b @news
        *sheet @b @news @day --out s.pdf
        *sheet @b @news --paper a4 --out a.pdf
        *card @b @news @day --out c.html""",
    "card": "card --rules college --lens 70-200 --lens 300 --bodies 1 --out c.html",
    "tamarack": """
        next --down 3 --distance 7 --ball opp35 @t @wire --attacking A --standing right:opp12
        next --down 1 --ball own20 @t @wire --attacking B --standing ownend:left8
        next --down 2 --ball opp9 @t @wire --standing end:right15 --have drop-back,catch
        *plan @t @wire""",
    "venues": """
        next --down 1 --ball opp30 @b --attacking A --faces defense
        *next --down 1 --ball opp30 @b --attacking B @news --standing left:opp8
        next --down 1 --ball opp20 @b @day --attacking B
        next --down 1 --ball opp20 @b @day --light prefer-backlight --attacking A
        next --down 2 --ball opp20 @b --at 2026-10-03T18:10-05:00 --light avoid-backlight
        next --down 4 --distance 1 --ball opp1 @t --attacking "road end" --assignment team
        next --down 3 --distance 18 --ball own3 @t --assignment student --by value
        next --down 2 --distance 10 --ball own40 @t @night --attacking A
        ~next --down 1 --ball opp8 @b --assignment card-set --have touchdown --attacking B
        crew --shooters 3 --down 1 --ball opp18 @b --attacking A @news
        ~crew --kit "70-200 + 400" --kit "24-70 + 70-200" --down 2 --distance 8 --ball own30
        crew --shooters 4 --down 4 --distance 3 --ball opp6 --rules high-school --faces defense
        crew --lens 300 --converter 1.4 --down 3 --distance 12 --ball own8 --hash left
        zones @t --attacking A --down 3 --distance long --zone red-zone
        light @b @day
        light @t @night --lens 70-200/2.8 --iso-max 3200
        light @t --at 2026-09-04T17:00 --sky overcast --shutter 1/2000 --wbgt 88
        ~light @t @night --lens 400/5.6 --body 1.5 --distance 30
        venue show brindle-prairie
        ~venue show tamarack-fork
        venue check tamarack-fork
        ~venue new "Otter Flats" --rules high-school
        assignment list
        assignment show agency
        ~assignment show newspaper
        assignment check card-set
        ~assignment new "Harbor weekly\"""",
    "rule sets": """
        next --down 1 --ball opp18
        next --down 1 --ball opp18 --rules college
        next --down 1 --ball opp18 --rules high-school
        next --down 3 --distance 7 --ball opp35 --hash left
        next --down 3 --distance 7 --ball opp35 --hash right --rules high-school
        next --down 3 --distance 7 --ball opp35 --hash middle --rules college --faces defense
        next --down 2 --ball own44 --rules college --hash left --lens 400 --converter 1.4
        next --down 1 --ball own1 --lens 70-200 --lens 300
        next --down 4 --distance 1 --ball own1 --faces defense
        next --down 1 --ball opp1 --lens 24-70 --lens 70-200 --lens 400 --bodies 2
        next --down 4 --ball opp2 --rules high-school --lens 100-400 --body 1.5
        next --down 2 --distance 20 --ball own15 --lens 600 --bodies 1
        next --down 3 --distance 33 --ball opp48 --lens 70-200 --lens 600 --body 1 --body 1.6
        next --down 2 --distance 2 --ball 50 --team-area 50 --top 20
        next --down 2 --distance 2 --ball 50 --team-area 20 --top 1 --by value
        next --down 3 --distance 9 --ball own30 --quarter 4 --clock 1:45 --score -4
        next --down 1 --ball opp40 --quarter 2 --clock 0:20 --score 3
        next --down 4 --distance 6 --ball opp33 --quarter 5 --clock 9:00 --score -3 @wire
        next --down 1 --ball own35 --quarter 3 --score 21 @news --faces defense
        next --down 2 --distance 5 --ball opp5 @wire --by value --have touchdown
        next --down 1 --ball opp10 --lens 14
        ~next --down 3 --distance 7 --ball opp35
        ~next --down 1 --ball opp3 --lens 70-200 --rules high-school
        zones
        zones --down 3 --seasons 2019 --lens 70-200 --lens 300 --plot z.svg > z.svg
        zones --down 1 --distance 10-10 --zone own-21-40 --zone inside-5 --rules college
        ~zones --seasons 2016-2018 --faces defense --stretch 10""",
    "refused": """
        next --down 5 --ball opp18
        next --down 1 --ball opp70
        next --down 1 --ball opp18 --lens wide
        next --down 1 --ball opp18 --standing "on the roof"
        next --down 1 --ball opp18 @b --rules pro
        next --down 1 --ball opp18 @day
        next --down 1 --distance 12 --ball opp5
        plan --assignment nobody
        crew --shooters 2""",
    "data": """
        data list
        data compare 2018 2019
        ~data compare 2009 2019
        model info
        evidence points
        evidence show
        ~evidence show
        data map chart.csv --yes --season 2031 --name otters --out c.toml > c.toml
        data check chart.csv --mapping c.toml
        data import chart.csv --mapping c.toml
        ~data list""",
    "log": """
        log start --home Otters --away Herons --id one --season 2031 @wire --lens 70-200 --lens 400
        log add --down 3 --distance 7 --ball opp35 --spot left:opp20 --result complete --gain 12 \
            --frames 8 --keepers 2 --tick catch --offense home --at 14:05:33
        log add --down 1 --ball opp23 --spot same --result run --gain 3 --hash left --clock 9:10
        log add --down 2 --distance 7 --ball opp20 --spot end:left12 --result incomplete --air 18 \
            --ended left --end-of-quarter
        log edit 2 --gain 5 --tick carrier
        log undo
        log tick drop-back
        log import taps.json
        log list
        ~log list
        ~log export --out one.json > one.json
        ~log export --form csv --out one.csv > one.csv
        log restore one.json --as two
        log end --game one
        log games""",
    "review": """
        demo --build built > built/times.csv built/game.json
        demo
        ~log list --game demo
        capture built/times.csv --game demo --match --dry-run
        capture built/times.csv --game demo --match
        log tick --game demo
        *review --game demo --own-reach
        *~review --game demo
        ~log export --game demo --form csv --out demo.csv > demo.csv""",
}
# Invented files in every chain's folder.
_PLACE = {"x_yd": 92.1, "y_yd": -2.0, "label": "offense's right sideline, opponent's 18"}
_TAPPED = {
    "at": "2026-10-03T19:41:07.003Z", "quarter": 2, "direction": "B", "down": 3, "distance_yd": 7,
    "ball": "opp35", "yardline_100": 35, "hash": "middle", "ball_changed_hands": False,
    "offense": "away", "score_diff": 0, "result": "gain", "end_yardline_100": 31,
    "first_down": False, "ends_quarter": False, "standing": _PLACE,
    "answer": {**_PLACE, "p_usable": 0.41, "walk_yd": 0},
}  # fmt: skip
_CARD = {
    "key": "9f2c" * 16, "model": "m", "venue": "v", "rules": "pro", "kit": "k",
    "assignment": "any", "ends": ["south", "north"],
}  # fmt: skip
FILES = {
    "stay.txt": "stay\n" * 3,
    "taps.json": json.dumps(
        {
            "format": "lensyard-card-export", "version": 2, "card": _CARD, "plays": [_TAPPED],
            "exported_at": "2026-10-03T21:04:11.120Z",
            "ticks": [{"frame": "fans", "at": "2026-10-03T19:12:40.551Z"}],
        }
    ),
    "chart.csv": "PLAY #;ODK;QTR;DN;DIST;YARD LN;HASH;PLAY TYPE;RESULT;GN/LS\n"
    "1;D;1;1;10;-20;M;Run;Rush;4\n2;D;1;2;6;-24;R;Pass;Incomplete;0\n"
    "3;O;1;1;10;-35;L;Run;Rush;5\n4;O;1;2;5;-40;L;Pass;Complete;60\n",
}  # fmt: skip

TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d)?")
MASKS = (
    (re.compile(r"\b[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b"), "<uuid>"),
    (re.compile(r'("key": )"[0-9a-f]{16,}"'), r'\1"<key>"'),
    (re.compile(r'(\.html",\s+"size_bytes": )\d+'), r'\1"<size>"'),
)


def masked(text: str, home: Path, checkout: Path) -> str:
    """Return text without what may vary from record to record."""
    text = text.replace(str(home), "<home>").replace(str(checkout), "<checkout>")
    for pattern, mask in MASKS:
        text = pattern.sub(mask, text)
    recent = (datetime.now(UTC) - timedelta(days=2)).isoformat()
    return TIME.sub(lambda found: "<now>" if found[0] > recent else found[0], text)


def record(out: Path, checkout: Path, *, quick: bool) -> None:
    """Run everything and write the record."""
    out, checkout, home = out.resolve(), checkout.resolve(), Path(tempfile.mkdtemp()).resolve()
    sys.path.insert(0, str(checkout / "src"))
    os.environ |= {"TZ": "UTC", "COLUMNS": "100", "NO_COLOR": "1"}
    os.environ["LENSYARD_CACHE_DIR"] = str(home / "cache")
    import click
    from click.testing import CliRunner

    from lensyard import cli

    @click.command(add_help_option=False, context_settings={"ignore_unknown_options": True})
    @click.argument("words", nargs=-1, type=click.UNPROCESSED)
    def typed(words: tuple[str, ...]) -> None:
        cli.main(list(words))

    answers: dict[str, Any] = {}
    for title, lines in CHAINS.items():
        folder = home / title.replace(" ", "-")
        folder.mkdir()
        os.environ |= {f"LENSYARD_{one}_DIR": str(folder / one) for one in ("DATA", "CONFIG")}
        os.chdir(folder)
        for name, text in FILES.items():
            Path(name).write_text(text, encoding="utf-8")
        for line in filter(None, map(str.strip, lines.splitlines())):
            full = re.sub(r"@\w+", lambda found: SHORT[found[0]], " ".join(line.split()))
            if quick and full.startswith("*"):
                continue
            command, _, files = full.lstrip("*~").partition(" > ")
            words = [*shlex.split(command), *([] if "~" in line else ["--json"])]
            began = time.monotonic()
            done = CliRunner().invoke(typed, words)
            said = {"code": done.exit_code, "out": done.stdout, "err": done.stderr}
            said |= {name: Path(name).read_text(encoding="utf-8") for name in files.split()}
            plain = json.loads(masked(json.dumps(said), home, checkout))
            answers[f"{title}: {' '.join(words)}"] = plain
            sys.stderr.write(f"{time.monotonic() - began:6.1f} s  {' '.join(words)}\n")
    out.write_text(json.dumps(answers, indent=1) + "\n", encoding="utf-8")


def compare(old: Path, new: Path) -> int:
    """Print what differs and return how many answers do."""
    one, other = (json.loads(path.read_text(encoding="utf-8")) for path in (old, new))
    differ = 0
    for name in dict.fromkeys([*one, *other]):
        a, b = (json.dumps(some.get(name), indent=1).split("\\n") for some in (one, other))
        if a != b:
            differ += 1
            print(name, *list(unified_diff(a, b, lineterm="", n=0))[2:14], sep="\n  ")
    print(f"{len(one)} and {len(other)} answers, {differ} differ")
    return differ


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["record", "compare"])
    parser.add_argument("files", nargs="+", type=Path)
    parser.add_argument("--checkout", type=Path, default=Path())
    parser.add_argument("--quick", action="store_true")
    asked = parser.parse_args()
    if asked.what == "record":
        record(asked.files[0], asked.checkout, quick=asked.quick)
    else:
        sys.exit(bool(compare(*asked.files)))
