"""What is fuzzed: each target takes one input drawn from a generator and must end well.

To end well is to return, or to raise `LensyardError`; nothing half written may be left.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Final

from tests.benchmarks import fuzz_inputs as inputs

from lensyard.errors import LensyardError

CATALOG: Final = "catalog.json"


class LeftOverError(Exception):
    """Something half written was left, or a refused input changed the store."""


def folder_state(folder: Path) -> dict[str, int]:
    """Return the files of an import folder with their sizes, the lock apart."""
    return {p.name: p.stat().st_size for p in folder.iterdir() if p.name != "lock"}


def require_whole(folder: Path) -> None:
    """Raise `LeftOverError` unless a folder holds just what its catalog says."""
    from lensyard.plays.importing.catalog import read_catalog

    catalog = read_catalog(folder)
    sizes = {part.name: part.size_bytes for e in catalog.entries for part in (*e.parts, *e.rejects)}
    found = folder_state(folder)
    found.pop(CATALOG, None)
    unused = {n for n in found if n not in sizes and not n.endswith(".parquet")}
    wrong = {name: size for name, size in sizes.items() if found.get(name) != size}
    if unused or wrong:
        raise LeftOverError(f"left over {sorted(unused)}, wrong {wrong}")


def _import(path: Path, folder: Path, rng: random.Random, mapping: str | None = None) -> None:
    """Import one file; whatever happens, the folder must be whole."""
    from lensyard.plays.importing.import_file import import_file
    from lensyard.plays.importing.mapping import parse_mapping
    from lensyard.plays.importing.stage import Request

    before = folder_state(folder)
    try:
        read = None if mapping is None else parse_mapping(mapping)
        import_file(
            Request(
                path,
                mapping=read,
                limit_rejects=rng.choice((0.05, 1.0)),
                replace=rng.random() < 0.3,
                season=rng.choice((None, 2031)),
            ),
            folder=folder,
        )
    except LensyardError:
        # What no catalog names any more may be swept meanwhile; the check below has the rest.
        if folder_state(folder).items() - before.items():
            raise LeftOverError("a refused file changed the folder") from None
    require_whole(folder)


@cache
def _seed_files() -> dict[str, bytes]:
    """Return small sound files in every shape, to be mangled."""
    from tests.support.play_file_shapes import college_sql, nflverse_sql
    from tests.support.play_files import invented, written

    plays = invented("game_id IN ('2018090900', '2018091605')")
    shapes = {"nflverse": nflverse_sql(plays), "college": college_sql(plays), "canonical": plays}
    return {
        f"{kind}{ending}": written(query, ending)
        for kind, query in shapes.items()
        for ending in (".parquet", ".csv")
    }


@cache
def _columns(source: str) -> tuple[str, ...]:
    from lensyard.plays.importing.adapter import adapter_named

    found = adapter_named(source)
    names = [name for names in found.names.values() for name in names]
    return tuple(dict.fromkeys([*names, *(n for n, _ in found.needs if n not in found.names)]))


CHART: Final = (
    "PLAY #;ODK;QTR;DN;DIST;YARD LN;HASH;PLAY TYPE;RESULT;GN/LS;PLAY DIR\n"
    "1;K;1;;;-40;M;KO;Touchback;;\n2;D;1;1;10;-20;M;Run;Rush;4;R\n"
    "3;D;1;2;6;-24;R;Pass;Incomplete;0;L\n4;O;1;3;6;24;R;Pass;Complete;3;L\n"
)


def mangled_files(rng: random.Random, folder: Path) -> None:
    """A sound file of any shape, mangled byte by byte."""
    name = rng.choice(sorted(_seed_files()))
    path = folder.parent / rng.choice((name, f"a'b [x] {name}", f'quo"te;{name}'))
    path.write_bytes(inputs.mangle(_seed_files()[name], rng))
    _import(path, folder, rng)
    path.unlink()


def nasty_tables(rng: random.Random, folder: Path) -> None:
    """A table with the columns of a source and nasty cells."""
    source = rng.choice(("nflverse", "sportsdataverse", "cfbd"))
    rows = inputs.nasty_rows(_columns(source), rng)
    data = (inputs.as_csv if rng.random() < 0.6 else inputs.as_json)(rows, rng)
    path = folder.parent / "table"
    path.write_bytes(data)
    _import(path, folder, rng)


def charts(rng: random.Random, folder: Path) -> None:
    """A chart and its mapping, one of them or both mangled; also through the wizard's guess."""
    from lensyard.plays.importing.guess import guess_mapping

    path = folder.parent / "chart.csv"
    path.write_bytes(inputs.mangle(CHART.encode(), rng) if rng.random() < 0.7 else CHART.encode())
    try:
        text = guess_mapping(path, {}, season=2031).toml
    except LensyardError:
        return
    _import(path, folder, rng, inputs.mangle_text(text, rng) if rng.random() < 0.6 else text)


def mappings(rng: random.Random, _: Path) -> None:
    """A mapping file."""
    from lensyard.plays.importing.mapping import parse_mapping

    text = 'source="x"\ntitle="y"\n[columns]\ndown="DN"\ndistance="D"\nyard_line="Y"\nkind="K"\n'
    _quietly(parse_mapping, inputs.mangle_text(text + 'gain="G"\n[values.kind]\nR="run"\n', rng))


def catalogs(rng: random.Random, folder: Path) -> None:
    """The list of imported seasons, damaged."""
    from lensyard.plays.importing.catalog import imported_seasons

    path = folder / CATALOG
    if not path.exists():
        sound = folder.parent / "sound.parquet"
        sound.write_bytes(_seed_files()["nflverse.parquet"])
        _import(sound, folder, random.Random(1))
    before = path.read_bytes()
    path.write_bytes(inputs.mangle(before, rng))
    _quietly(imported_seasons, folder)
    path.write_bytes(before)


def kits(rng: random.Random, _: Path) -> None:
    """Lenses, bodies and converters as typed."""
    from lensyard.domain.kit import kit_of

    lenses = [
        rng.choice(("70-200", "400", "70-200/2.8", "24-70", *inputs.NASTY))
        for _ in range(rng.randint(0, 4))
    ]
    numbers = (0.0, 1.0, 1.4, 1.5, -1.0, 1e308, float("nan"), float("inf"))
    crops = rng.choice((None, [rng.choice(numbers) for _ in range(rng.randint(0, 4))]))
    _quietly(
        lambda: kit_of(
            lenses,
            crop_factors=crops,
            bodies=rng.choice((None, -1, 0, 1, 2, 99)),
            converter=rng.choice(numbers),
        )
    )


def venues(rng: random.Random, _: Path) -> None:
    """A venue file."""
    from lensyard.settings.files import VENUES

    text = VENUES.text(rng.choice(list(VENUES.names().values())))
    _quietly(VENUES.parse, inputs.mangle_text(text, rng))


def assignments(rng: random.Random, _: Path) -> None:
    """An assignment file."""
    from lensyard.settings.files import ASSIGNMENTS

    text = ASSIGNMENTS.text(rng.choice(list(ASSIGNMENTS.names().values())))
    _quietly(ASSIGNMENTS.parse, inputs.mangle_text(text, rng))


def cards(rng: random.Random, _: Path) -> None:
    """What the offline card saved."""
    from lensyard.game.document import read_card_export

    play = (
        '{"at":"2026-10-03T19:41:07.003Z","quarter":2,"direction":"B","offense":"away",'
        '"down":3,"distance_yd":7,"score_diff":-3,"result":"gain","end_yardline_100":33,'
        '"first_down":false,"ends_quarter":false,"ball":"opp35","yardline_100":35,"hash":"middle","ball_changed_hands":false,"standing":'
        '{"x_yd":92.1,"y_yd":-2.0,"label":"x"},"answer":{"x_yd":101.9,"y_yd":-2.0,'
        '"label":"y","p_usable":0.41,"walk_yd":9.8}}'
    )
    text = (
        '{"format":"lensyard-card-export","version":2,"exported_at":"2026-10-03T21:04:11.120Z",'
        f'"card":{{"key":"{"9f" * 32}","model":"m","venue":"v","rules":"pro","kit":"k",'
        f'"assignment":"a","ends":["A","B"]}},"plays":[{play}],"ticks":[{{"frame":"drop-back",'
        '"at":"2026-10-03T19:12:40.551Z"}]}'
    )
    _quietly(read_card_export, inputs.mangle_text(text, rng))


def photographs(rng: random.Random, folder: Path) -> None:
    """A photograph's header."""
    from lensyard.features.captions.exif import read_photos

    exif = (
        b"Exif\x00\x00II*\x00\x08\x00\x00\x00\x02\x00\x10\x01\x02\x00\x06\x00\x00\x00&\x00\x00\x00"
        b"i\x87\x04\x00\x01\x00\x00\x00,\x00\x00\x00\x00\x00\x00\x00Model\x00\x01\x00\x03\x90\x02"
        b"\x00\x14\x00\x00\x00>\x00\x00\x00\x00\x00\x00\x002026:10:03 19:41:07\x00"
    )
    jpeg = b"\xff\xd8\xff\xe1" + (len(exif) + 2).to_bytes(2, "big") + exif + b"\xff\xd9"
    path = folder.parent / "photos" / "photo.jpg"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(inputs.mangle(jpeg, rng) if rng.random() < 0.9 else jpeg)
    _quietly(read_photos, path.parent)


def models(rng: random.Random, folder: Path) -> None:
    """A model's arrays or manifest, damaged; with the hash made right again half of the time."""
    import hashlib
    import json

    from lensyard.model.artifact import load
    from lensyard.model.context import BASE_MODEL, model_path

    source = model_path(BASE_MODEL)
    arrays, manifest = source.read_bytes(), source.with_suffix(".json").read_bytes()
    if rng.random() < 0.7:
        arrays = inputs.mangle(arrays, rng, most=3)
        if rng.random() < 0.5:
            document = json.loads(manifest)
            document["arrays_sha256"] = hashlib.sha256(arrays).hexdigest()
            manifest = json.dumps(document).encode()
    else:
        manifest = inputs.mangle(manifest, rng)
    path = folder.parent / source.name
    path.write_bytes(arrays)
    path.with_suffix(".json").write_bytes(manifest)
    _quietly(load, path)


def stores(rng: random.Random, folder: Path) -> None:
    """The cached plays, a bit flipped anywhere: the answer is the same, or the store heals."""
    from lensyard.plays.store import Store

    source, cache = _two_games(), folder.parent / "cache"
    with Store.open(parquet=source, folder=cache) as first:
        path, whole = first.path, first.plays()
    content = bytearray(path.read_bytes())
    content[rng.randrange(len(content))] ^= 1 << rng.randrange(8)
    path.write_bytes(content)
    with Store.open(parquet=source, folder=cache) as again:
        if not again.plays().equals(whole):
            raise LeftOverError("the store answers otherwise than before")


@cache
def _two_games() -> Path:
    from data.recipes.tests.feed_games import invented_parquet

    return invented_parquet(Path(tempfile.mkdtemp(prefix="two-games-")))


def _quietly(function: Callable[..., object], *arguments: object) -> None:
    """Call a function; what it raises on purpose is fine."""
    try:
        function(*arguments)
    except LensyardError:
        return


TARGETS: Final[dict[str, Callable[[random.Random, Path], None]]] = {
    "files": mangled_files,
    "tables": nasty_tables,
    "charts": charts,
    "mappings": mappings,
    "catalogs": catalogs,
    "kits": kits,
    "venues": venues,
    "assignments": assignments,
    "cards": cards,
    "photographs": photographs,
    "models": models,
    "stores": stores,
}


def run_one(target: str, seed: int, folder: Path) -> None:
    """Run one target on the input of one seed, in a folder of imports."""
    folder.mkdir(parents=True, exist_ok=True)
    TARGETS[target](random.Random(f"{target} {seed}"), folder)
