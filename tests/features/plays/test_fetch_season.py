"""Fetching a season: where from, and that it is imported. The network is not used."""

from lensyard.features.plays.compute import fetch_season


def test_a_fetched_season_is_imported_with_where_it_came_from(nflverse_file, tmp_path, monkeypatch):
    content = nflverse_file().read_bytes()
    asked: list[str] = []

    def deliver(url, target, *, sha256=None):
        asked.append(url)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
        return "0" * 64

    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path / "cache"))
    found = fetch_season(2031, fetch=deliver)
    assert (found.report.source, found.report.seasons) == ("nflverse", (2031,))
    assert found.report.changed
    assert asked == [found.url]
    assert found.url.endswith("/play_by_play_2031.parquet")
    again = fetch_season(2031, url="https://example.invalid/any", sha256="0" * 64, fetch=deliver)
    assert not again.report.changed
