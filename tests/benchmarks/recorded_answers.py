"""What a checkout answers, recorded from the outside, and two such records compared.

    python tests/benchmarks/recorded_answers.py record OUT.json --checkout DIR [--quick]
    python tests/benchmarks/recorded_answers.py compare OLD.json NEW.json [--text]

A record runs the command line of ``DIR/src``, walks the dashboard of ``DIR/app.py`` in Streamlit's
test harness, and has Node run the script inside a written card. Nothing of lensyard is imported, so
the code behind may move as it likes. What must stay equal is *strict*: JSON documents, lines of
text, files, exit codes, refusals, numbers on pages. What may be put in other words is *loose*:
words of pages, labels of widgets, progress, how a card's file is written.

Masked are paths up to the file's name, times of the last two days, UUIDs, plan keys, the size of a
card and lensyard's own version. Data, cache and settings lie in a fresh folder: each chain has data
of its own, all share the cache. Numerical libraries use one thread.
"""

from __future__ import annotations

import argparse
import base64
import hashlib
import html
import json
import math
import os
import random
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

Record = dict[str, Any]

# Commands that moved: the new name is tried where the old one is unknown.
RENAMED = {"backtest": "evidence backtest", "model points": "evidence points"}
# Written short in the lines below.
SHORT = {
    "@b": "--venue brindle-prairie",
    "@t": "--venue tamarack-fork",
    "@news": "--assignment newspaper",
    "@wire": "--assignment agency",
    "@day": "--at 2026-10-03T15:30",
    "@night": "--at 2026-10-09T19:00",
}
# A chain's lines run in order, in a folder and with data of their own. Each is a command that gets
# --json. "~" asks for its text, "*" is left out by --quick; after ">" stand files that it writes,
# after "<" lines that it reads.
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
        drill --seed 12 --length 3 --no-keep --answers - < stay|stay|stay
        ~drill --seed 4 --length 2 --answers - < stay|stay
        drill --progress
        backtest --season 2019
        *gear --kit "70-200 + 400" --kit 70-200
        *~gear --kit "70-200 + 400" --kit 70-200
        *crew --shooters 2 --game""",
    "brindle": """
        *plan @b @news
        *sheet @b @news @day --out s.pdf > s.pdf
        *sheet @b @news --paper a4 --out a.pdf > a.pdf
        *card @b @news @day --out c.html > c.html""",
    "card": "card --rules college --lens 70-200 --lens 300 --bodies 1 --out c.html > c.html",
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
        model points
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
# Page, address, and after "|" the buttons to press. All have the demo game; after the chains.
PAGES: dict[str, str] = {
    "pages 1": """
        next
        next ?down=3&distance=7&ball=opp35&standing=left:opp20
        next ?down=1&ball=opp8&venue=brindle-prairie&assignment=newspaper&attacking=A
        next ?down=2&distance=4&ball=own44&rules=college&hash=left&by=value&score=-4&quarter=4
        next ?down=7&ball=opp70&look=night
        drill
        drill | Stay here
        drill | Stay here | Next play | Stay here
        review
        review ?game=demo&reach=own
        review ?season=2026&down=7
        evidence
        evidence ?look=night
        evidence ?look=print&down=9""",
    "pages 2": """
        plan
        plan ?venue=brindle-prairie&assignment=newspaper&kickoff=2026-10-03T15:30
        plan ?venue=tamarack-fork&assignment=agency&look=night
        zones
        zones ?zone_down=3&to_go=long
        zones ?venue=tamarack-fork&attacking=A&faces=defense
        gear ?kit=70-200
        gear ?kit=70-200&kit=70-200 + 400
        gear ?kit=70-200&down=9&look=night
        crew
        crew ?shooters=3&down=3&distance=7&ball=opp35
        crew ?venue=tamarack-fork&attacking=A&down=1&ball=opp3&carried=24-70 + 70-200
        crew ?crew=game&shooters=2""",
}
PAGE_SETUP = ("demo --build built", "demo", "capture built/times.csv --game demo --match")
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

PATIENCE_S = 3600
NUMBER = re.compile(r"(?:(?<![\w.])-|−)?\d+(?:[.,]\d+)*")
TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d)?")
MASKS = (
    (re.compile(r"\b[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b"), "<uuid>"),
    (re.compile(r'("key": )"[0-9a-f]{16,}"'), r'\1"<key>"'),
    (re.compile(r'(\.html",\s+"size_bytes": )\d+'), r'\1"<size>"'),
    (re.compile(r'("(?:lensyard_)?version": )"[^"]*"'), r'\1"<version>"'),
)


@dataclass(frozen=True)
class House:
    """A checkout to ask, the Python to run it with, where it may write, and when that began."""

    checkout: Path
    python: str
    home: Path
    begun: datetime

    def run(self, chain: str, words: Iterable[str], stdin: str = "") -> Any:
        """Run Python with these arguments in a chain's folder, with its data."""
        folder = self.home / "work" / chain.replace(" ", "-")
        if not folder.exists():
            folder.mkdir(parents=True)
            for name, text in FILES.items():
                (folder / name).write_text(text, encoding="utf-8")
        environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        environment |= dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
        environment |= {"TZ": "UTC", "LC_ALL": "C.UTF-8", "COLUMNS": "100", "NO_COLOR": "1"}
        environment |= {"PYTHONPATH": str(self.checkout / "src")}
        environment |= {"PYTHONPYCACHEPREFIX": str(self.home / "pycache")}
        for name in ("data", "cache", "config"):
            place = self.home / name / (folder.name if name == "data" else "")
            environment[f"LENSYARD_{name.upper()}_DIR"] = str(place)
        return subprocess.run(
            [self.python, *words], input=stdin, capture_output=True, text=True, check=False,
            cwd=folder, env=environment, timeout=PATIENCE_S,
        )  # fmt: skip

    def masked(self, text: str) -> str:
        """Return text without what may vary from record to record."""
        for root in (self.home, self.checkout):
            text = re.sub(rf"{re.escape(str(root))}[^\s'\",;:)]*?([^/\s'\",;:)]*)(?=[\s'\",;:)]|$)",
                          r"<path>/\1", text)  # fmt: skip
        for pattern, mask in MASKS:
            text = pattern.sub(mask, text)
        return TIME.sub(self._time, text)

    def _time(self, found: re.Match[str]) -> str:
        at = datetime.fromisoformat(found[0])
        at = at if at.tzinfo else at.replace(tzinfo=UTC)
        # A time of day alone is taken for the last such time, which may have been yesterday.
        old = at < self.begun - timedelta(days=2) or at > datetime.now(UTC) + timedelta(days=1)
        return found[0] if old else "<now>"


def answer_of(house: House, chain: str, line: str) -> Record:
    """Run one line of a chain and return what came of it."""
    as_text = line.startswith("~")
    command, _, stdin = line.removeprefix("~").partition(" < ")
    command, _, files = command.partition(" > ")
    words = [*shlex.split(command), *([] if as_text else ["--json"])]
    stdin = stdin.replace("|", "\n") + "\n"
    done = house.run(chain, ["-m", "lensyard", *words], stdin)
    known = next((n for n in (2, 1) if " ".join(words[:n]) in RENAMED), 0)
    if done.returncode == 2 and known and re.search("[Nn]o (such )?command", done.stderr):
        words[:known] = RENAMED[" ".join(words[:known])].split()
        done = house.run(chain, ["-m", "lensyard", *words], stdin)
    out, said = house.masked(done.stdout), house.masked(done.stderr).splitlines()
    strict: Record = {"code": done.returncode}
    if done.returncode:
        strict["refusal"] = said
    try:
        strict["json"] = json.loads(out)
    except ValueError:
        strict["text"] = out.splitlines()
    loose: Record = {"stderr": said}
    for name in files.split():
        path = house.home / "work" / chain.replace(" ", "-") / name
        strict[name], loose[name] = file_record(path, house)
    return {"strict": strict, "loose": loose}


def file_record(path: Path, house: House) -> tuple[Any, Any]:
    """Return what must stay equal of a written file, and what need not."""
    if not path.is_file():
        return "not written", None
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    if path.suffix == ".html":
        said = card_answers(path)
        return {"answers": said.pop("answers")}, {"sha256": digest, **said}
    if path.suffix == ".pdf":
        if shutil.which("pdftotext") is None:
            return {"sha256": digest}, "no pdftotext here"
        words = ["pdftotext", "-layout", str(path), "-"]
        text = subprocess.run(words, capture_output=True, text=True, check=True).stdout
        return {"sha256": digest, "lines": text.splitlines()}, None
    return house.masked(path.read_text(encoding="utf-8")).splitlines(), None


# A document just large enough for the card's script: elements by id, buttons, one drawing.
NODE = r"""
const page = require("fs").readFileSync(process.argv[2], "utf8");
const { cases, read, about } = JSON.parse(process.argv[3]);
const data = (text) => Object.fromEntries([...text.matchAll(/data-([\w-]+)="([^"]*)"/g)].map(
  ([, k, v]) => [k.replace(/-(\w)/g, (_, c) => c.toUpperCase()), v]));
class Item {
  constructor(tag, text = "") {
    Object.assign(this, { tag, own: "", children: [], dataset: data(text), at: {}, heard: {},
      style: {}, value: "", hidden: false });
  }
  get textContent() { return this.own + this.children.map((c) => c.textContent ?? c).join(""); }
  set textContent(text) { this.own = String(text); this.children = []; }
  append(...items) { this.children.push(...items); }
  appendChild(item) { this.children.push(item); return item; }
  replaceChildren(...items) { this.own = ""; this.children = items; }
  setAttribute(name, value) { this.at[name] = String(value); }
  getAttribute(name) { return this.at[name] ?? null; }
  removeAttribute(name) { delete this.at[name]; }
  addEventListener(kind, hear) { (this.heard[kind] ??= []).push(hear); }
  fire(kind, event = {}) { for (const hear of this.heard[kind] ?? []) hear({ ...event }); }
  click() { this.fire("click"); }
  all() { return this.children.flatMap((c) => (c.all ? [c, ...c.all()] : [])); }
  querySelectorAll(what) {
    const name = /data-([\w-]+)/.exec(what)?.[1];
    return this.all().filter((c) => name in c.dataset);
  }
  querySelector(what) { return this.querySelectorAll(what)[0] ?? null; }
  getScreenCTM() { return { inverse: () => null }; }
}
const ids = {};
for (const [whole, tag, id] of page.matchAll(/<(\w+)\b[^>]*?\bid="([^"]+)"[^>]*>/g)) {
  ids[id] = new Item(tag, whole);
  const start = page.indexOf(whole) + whole.length;
  if (tag === "script") ids[id].own = page.slice(start, page.indexOf("</script>", start));
}
const $ = (id) => (ids[id] ??= new Item("div"));
const affine = /data-affine="([^"]*)"/.exec(page);
const svg = new Item("svg"), layer = svg.appendChild(new Item("g", affine[0]));
for (const [text] of page.matchAll(/data-station="\d+"/g)) layer.append(new Item("circle", text));
const root = new Item("html");
Object.assign(globalThis, {
  document: { documentElement: root, body: new Item("body"), getElementById: $,
    createElement: (tag) => new Item(tag), createElementNS: (_, tag) => new Item(tag),
    querySelector: (what) => (what.endsWith("svg") ? svg : svg.querySelector(what)),
    addEventListener() {} },
  localStorage: { getItem: () => null, setItem() {} }, scrollTo() {},
  DOMPoint: class { constructor(x, y) { Object.assign(this, { x, y }); }
    matrixTransform() { return this; } },
});
const press = (id, value) => $(id).all().find((b) => b.dataset.value === String(value))?.click();
const [a, b, c, d, e, f] = affine[1].split(" ").map(Number), under = a * e - b * d;
function ask(one) {
  if ($("changed").getAttribute("aria-pressed") === "true") $("changed").click();
  for (const name of ["direction", "down", "hash", "team"]) press(name, one[name]);
  $("ball").value = String(one.direction === "A" ? one.yardline : 100 - one.yardline);
  $("ball").fire("input");
  let yards = [20, 15].find((d) => one.distance >= d) ?? Math.min(one.distance, 10);
  press("distance", yards);
  for (; yards < one.distance; yards++) press("distance", -2);
  if (one.standing === null) $("stand-clear").click();
  else {
    const x = one.standing[0] - c, y = one.standing[1] - f;
    svg.fire("click", { clientX: (e * x - b * y) / under, clientY: (a * y - d * x) / under });
  }
  if (one.changed) $("changed").click();
  return read.map((id) => $(id).textContent).join(" | ");
}
for (const [, code] of page.matchAll(/<script>([\s\S]*?)<\/script>/g)) (0, eval)(code);
(function wait(left) {
  if (root.dataset.ready || !left) {
    const answers = root.dataset.ready ? cases.map(ask) : ["not ready", $("failed").textContent];
    const said = about.flatMap((id) => $(id).all().filter((i) => !i.children.length))
      .map((i) => i.textContent);
    process.stdout.write(JSON.stringify({ answers, about: said }), () => process.exit(0));
    return;
  }
  setTimeout(wait, 50, left - 1);
})(400);
"""
READ = ("situation", "toward", "go", "where", "p", "why", "stand-text", "expect")
ABOUT = ("facts-list", "cautions", "light", "action", "life")


def card_answers(path: Path, n: int = 500) -> Record:
    """Return what a card's own script answers to situations drawn from a fixed seed."""
    draw = random.Random(20261128)
    cases = []
    for _ in range(n):
        yardline = draw.randint(1, 99)
        along, across, past = draw.uniform(-3, 123), draw.uniform(-3, 56), draw.random() < 0.5
        side, end = (along, 58.0 if past else -5.0), (125.0 if past else -5.0, across)
        cases.append(
            {
                "direction": draw.choice("AB"),
                "down": draw.randint(1, 4),
                "yardline": yardline,
                "distance": draw.randint(1, min(20, yardline)),
                "hash": draw.choice(["left", "middle", "right", "any"]),
                "team": draw.choice(["ours", "theirs"]),
                "standing": draw.choice([None, side, side, end]),
                "changed": draw.random() < 0.1,
            }
        )
    script = path.with_suffix(".cjs")
    script.write_text(NODE, encoding="utf-8")
    asked = json.dumps({"cases": cases, "read": READ, "about": ABOUT})
    words = ["node", str(script), str(path), asked]
    done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=PATIENCE_S)
    if done.returncode:
        return {"answers": ["the card's script failed", *done.stderr.splitlines()[-8:]]}
    said: Record = json.loads(done.stdout)
    return said


def walk_pages(checkout: str, lines: list[str]) -> Iterator[tuple[str, Record]]:
    """Yield what every page shows; runs by itself, with the checkout in its path."""
    from streamlit.runtime.memory_media_file_storage import MemoryMediaFileStorage as Storage

    files: list[list[str]] = []
    keep = Storage.load_and_get_id

    def noted(self: Any, data: Any, mime: str, kind: Any, name: str | None = None) -> str:
        if mime == "text/csv":
            text = data.decode("utf-8-sig") if isinstance(data, bytes) else str(data)
            files.append([str(name), *text.splitlines()])
        return keep(self, data, mime, kind, name)

    setattr(Storage, keep.__name__, noted)
    for line in lines:
        try:
            yield line, _page(checkout, line, files)
        except Exception as error:  # the other pages are still to be walked
            yield line, {"strict": {"crash": repr(error)}, "loose": {}}


def _page(checkout: str, line: str, files: list[list[str]]) -> Record:
    from streamlit.testing.v1 import AppTest
    from streamlit.util import calc_hash

    place, *buttons = line.split(" | ")
    page, _, address = place.partition(" ?")
    app = AppTest.from_file(f"{checkout}/app.py", default_timeout=PATIENCE_S)
    values: dict[str, list[str]] = {}
    for part in filter(None, address.split("&")):
        name, _, value = part.partition("=")
        values.setdefault(name, []).append(value)
    for name, several in values.items():
        app.query_params[name] = several
    if page != "next":
        # The harness can only switch to pages that are files; these are functions.
        app._page_hash = calc_hash(page)
    for label in (None, *buttons):
        if label is not None:
            app.button[[one.label for one in app.button].index(label)].click()
        files.clear()
        app.run()
        until = time.monotonic() + PATIENCE_S
        while any(one.label == "Cancel" for one in app.button) and time.monotonic() < until:
            time.sleep(2)
            files.clear()
            app.run()
    shown: dict[str, list[str]] = {"words": [], "pictures": [], "widgets": []}
    _look(app._tree, shown)
    numbers = {kind: NUMBER.findall(" ".join(shown[kind])) for kind in ("words", "pictures")}
    return {"strict": {"numbers": numbers, "csv": list(files)}, "loose": shown}


def _look(block: Any, shown: dict[str, list[str]]) -> None:
    """Collect what the elements of a page say, in their order."""
    from google.protobuf.json_format import MessageToDict

    for node in block.children.values():
        if hasattr(node, "children"):
            _look(node, shown)
            continue
        said = MessageToDict(node.proto)
        if node.type in ("dataframe", "table"):
            shown["words"].append(node.value.to_csv())
        elif node.type == "bidi_component":
            data = json.loads(said.get("json", "{}"))
            shown["pictures"] += [plain(v) for v in data.values() if isinstance(v, str)]
        elif node.type == "exception":
            shown["words"].append(said.get("message", ""))
        elif "body" in said:
            body = re.sub(r"<style.*?</style>", "", said["body"], flags=re.S)
            for packed in re.findall(r"data:image/svg\+xml;base64,([\w+/=]+)", body):
                shown["pictures"].append(plain(base64.b64decode(packed).decode()))
            body = re.sub(r'\balt="([^"]*)"[^>]*', r">\1<", body)
            parts = (said.get("label", ""), plain(body), said.get("delta", ""))
            shown["words"].append(" ".join(filter(None, parts)))
        else:
            kept = ("label", "value", "rawValue", "rawValues", "options", "placeholder", "help")
            shown["widgets"].append(json.dumps([said[k] for k in kept if k in said]))


def plain(markup: str) -> str:
    """Return the text of HTML or SVG."""
    bare = re.sub(r"<style.*?</style>|<[^>]*>", " ", markup, flags=re.S)
    return " ".join(html.unescape(bare).split())


def lines_of(text: str, *, quick: bool) -> list[str]:
    """Return the lines of a chain, written out."""
    lines = []
    for line in filter(None, map(str.strip, text.splitlines())):
        full = re.sub(r"@\w+", lambda found: SHORT[found[0]], " ".join(line.split()))
        if not (quick and full.startswith("*")):
            lines.append(full.lstrip("*"))
    return lines


def record(args: argparse.Namespace) -> None:
    """Run everything and write the record."""
    begun = time.monotonic()
    home = Path(tempfile.mkdtemp(prefix="recorded-")).resolve()
    house = House(args.checkout.resolve(), args.python, home, datetime.now(UTC))
    answers: dict[str, Record] = {}
    seconds: dict[str, float] = {}

    def note(name: str, found: Record, since: float) -> None:
        again = sum(1 for known in answers if known.partition(" #")[0] == name)
        name = f"{name} #{again + 1}" if again else name
        answers[name], seconds[name] = found, round(time.monotonic() - since, 1)
        sys.stderr.write(f"{seconds[name]:6.1f} s  {name}\n")

    def chain(title: str) -> None:
        lines = lines_of(CHAINS[title], quick=args.quick)
        wanted = [line.lstrip("~").startswith(args.only) for line in lines]
        last = max((i for i, one in enumerate(wanted) if one), default=-1)
        stateful = title in ("log", "review", "data")
        for line, one in zip(lines[: last + 1], wanted, strict=False):
            since = time.monotonic()
            if one or stateful:
                try:
                    found = answer_of(house, title, line)
                except Exception as error:  # the others are still to be asked
                    found = {"strict": {"crash": repr(error)}, "loose": {}}
                if one:
                    note(f"{line[1:]} (text)" if line[0] == "~" else line, found, since)

    def pages(title: str) -> None:
        lines = [one for one in lines_of(PAGES[title], quick=False)
                 if f"page {one}".startswith(args.only)]  # fmt: skip
        if not lines:
            return
        for command in PAGE_SETUP:
            house.run(title, ["-m", "lensyard", *command.split()])
        since = time.monotonic()
        words = [str(Path(__file__).resolve()), "pages", str(house.checkout)]
        done = house.run(title, words, json.dumps(lines))
        if done.returncode:
            raise SystemExit(f"the pages could not be walked:\n{done.stderr[-3000:]}")
        for text in done.stdout.splitlines():
            name, found = json.loads(house.masked(text))
            note(f"page {name}", found, since)

    about = {"checkout": str(house.checkout), "at": house.begun.isoformat(), "seconds": seconds}
    args.out.parent.mkdir(parents=True, exist_ok=True)
    try:
        house.run("warm up", ["-m", "lensyard", "data", "list"])  # builds the store of plays
        for work, titles in ((chain, CHAINS), (pages, {} if args.quick else PAGES)):
            with ThreadPoolExecutor(args.jobs) as pool:
                list(pool.map(work, titles))
            text = json.dumps({"about": about, "answers": dict(sorted(answers.items()))}, indent=1)
            args.out.write_text(text + "\n", encoding="utf-8")
    finally:
        shutil.rmtree(home, ignore_errors=True)
    took, busy = time.monotonic() - begun, sum(os.times()[2:4])
    sys.stdout.write(f"{args.out}: {len(answers)} answers, {took:.0f} s, {busy:.0f} s of work\n")


def differences(a: Any, b: Any, path: str = "", *, close: float) -> Iterator[tuple[str, Any, Any]]:
    """Yield (path, value, other value) wherever two documents differ by more than ``close``."""
    if isinstance(a, dict) and isinstance(b, dict):
        for key in dict.fromkeys([*a, *b]):
            here = f"{path}.{key}" if path else str(key)
            one, other = a.get(key, "(none)"), b.get(key, "(none)")
            yield from differences(one, other, here, close=close)
    elif isinstance(a, list) and isinstance(b, list) and (a, b) != (b, a):
        texts = all(isinstance(one, str) for one in (*a, *b))
        if texts and path.startswith("numbers") and Counter(a) == Counter(b):
            yield f"{path} (in another order)", len(a), len(b)
        elif texts and len(a) != len(b):
            for kind, i, j, k, m in SequenceMatcher(None, a, b, autojunk=False).get_opcodes():
                if kind != "equal":
                    yield f"{path}[{i}:{j}]", a[i:j], b[k:m]
        elif len(a) == len(b):
            for i, (one, other) in enumerate(zip(a, b, strict=True)):
                yield from differences(one, other, f"{path}[{i}]", close=close)
        else:
            yield f"{path} (length)", len(a), len(b)
            for i, (one, other) in enumerate(zip(a, b, strict=False)):
                yield from differences(one, other, f"{path}[{i}]", close=close)
    elif (a != b or type(a) is not type(b)) and not (
        isinstance(a, float)
        and isinstance(b, float)
        and math.isclose(a, b, rel_tol=close, abs_tol=close)
    ):
        yield path, a, b


def counted(strict: Record) -> Record:
    """Return an answer with its lines of text and its numbers as counts of each number."""
    numbers = {**strict.get("numbers", {}), **{k: v for k, v in strict.items() if k == "text"}}
    counts = {k: dict(Counter(NUMBER.findall(" ".join(v)))) for k, v in numbers.items()}
    return {**strict, "numbers": counts, "text": None}


def compare(args: argparse.Namespace) -> int:
    """Print the differences of two records; return the exit code."""
    old, new = (json.loads(p.read_text(encoding="utf-8"))["answers"] for p in (args.a, args.b))
    count = {"strict": 0, "loose": 0}
    for name in dict.fromkeys([*old, *new]):
        if not (name in old and name in new):
            if not args.common:
                count["strict"] += 1
                sys.stdout.write(f"== {name}\n   only in {args.a if name in old else args.b}\n")
            continue
        for kind in count:
            one, other = old[name][kind], new[name][kind]
            if args.numbers and kind == "strict":
                one, other = counted(one), counted(other)
            found = list(differences(one, other, close=args.close))
            count[kind] += len(found)
            if found and (kind == "strict" or args.show_text or args.text):
                sys.stdout.write(f"== {name}{'' if kind == 'strict' else ' (words only)'}\n")
                for path, a, b in found[: args.limit]:
                    sys.stdout.write(f"   {path}\n     - {a!r:.400}\n     + {b!r:.400}\n")
                if len(found) > args.limit:
                    sys.stdout.write(f"   … and {len(found) - args.limit} more\n")
    sys.stdout.write(
        f"{len(old)} and {len(new)} answers: {count['strict']} differences; in words that may "
        f"change: {count['loose']}\n"
    )
    return int(bool(count["strict"] or (args.text and count["loose"])))


def main() -> int:
    """Read the command line."""
    if sys.argv[1:2] == ["pages"]:
        for shown in walk_pages(sys.argv[2], json.load(sys.stdin)):
            sys.stdout.write(json.dumps(shown) + "\n")
        return 0
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    commands = parser.add_subparsers(required=True)
    one = commands.add_parser("record", help="ask a checkout everything")
    one.add_argument("out", type=Path)
    one.add_argument("--checkout", type=Path, required=True)
    one.add_argument("--python", default=sys.executable, help="with everything installed")
    one.add_argument("--only", default="", help="only what begins so: next, 'page zones'")
    one.add_argument("--quick", action="store_true", help="no plans, sheets, gear, reviews, pages")
    one.add_argument("--jobs", type=int, default=2)
    one.set_defaults(run=record)
    two = commands.add_parser("compare", help="say what differs; exit code 1 if anything does")
    two.add_argument("a", type=Path)
    two.add_argument("b", type=Path)
    two.add_argument("--common", action="store_true", help="only what both records have")
    two.add_argument("--show-text", action="store_true", help="show changed words, too")
    two.add_argument("--text", action="store_true", help="changed words count as differences")
    two.add_argument("--numbers", action="store_true", help="of text only numbers, in any order")
    two.add_argument("--close", type=float, default=0.0, help="JSON numbers so close are equal")
    two.add_argument("--limit", type=int, default=12, help="differences shown of one answer")
    two.set_defaults(run=compare)
    args = parser.parse_args()
    return args.run(args) or 0


if __name__ == "__main__":
    sys.exit(main())
