"""What matching captures gave, and what became of their captions, as a report."""

from __future__ import annotations

from collections.abc import Sequence

from lensyard.features.captions.captions import PLACEHOLDERS
from lensyard.features.captions.compute import BodyClock, CaptureMatch
from lensyard.features.captions.desk import PlayCaption, WrittenCaptions
from lensyard.features.captions.exif import Skipped
from lensyard.render.report import Column, Format, Interval, Report, Section, Table, Value

_CLOCKS = (
    Column("body", "Camera"),
    Column("frames", "Frames", Format.COUNT),
    Column("how", "Clock"),
    Column("offset_s", "Added, s", Format.SIGNED),
    Column("confidence", "Right with", Format.PERCENT_1),
    Column("bursts", "Bursts", Format.COUNT),
    Column("share_in_plays", "In plays", Format.PERCENT),
)
_SHARES = (
    Column("frames_are", "Frames"),
    Column("frames", "Count", Format.COUNT),
    Column("share", "Share", Format.PERCENT_1),
)
_CAPTIONS = (
    Column("play", "No", Format.COUNT),
    Column("frames", "Frames", Format.COUNT),
    Column("unsure", "Unsure", Format.COUNT),
    Column("caption", "Caption of the first frame"),
)


def capture_report(match: CaptureMatch) -> Report:
    """Describe which frames belong to plays, how clocks were corrected, and the captions."""
    done = "the log has the counts" if match.written else "nothing was written"
    written = match.captions
    captions: tuple[Table, ...] = ()
    sections: tuple[Section, ...] = ()
    if written is not None:
        captions = (captions_table(written.plays, detail=match.written),)
        sections = (_captions_section(written, done=match.written), placeholders_section())
    return Report(
        headline=(
            f"{match.frames_in_plays:,} of {match.frames:,} frames belong to "
            f"{match.plays_with_frames} of {match.logged_plays} plays of {match.game_id}; {done}"
        ),
        tables=(
            Table("clocks", "", _CLOCKS, tuple(_clock(clock) for clock in match.clocks)),
            _shares(match),
            *captions,
        ),
        sections=(
            *sections,
            *_left("gave no time", match.skipped),
            *(() if written is None else _left("stayed as they were", written.left)),
        ),
        cautions=(*match.warnings, *_unsure(match)),
    )


def _clock(clock: BodyClock) -> tuple[Value, ...]:
    body, found = clock.body or "the camera", clock.found
    if found is None:
        return body, clock.frames, clock.how, clock.offset_s, None, None, None
    offset = Interval(found.offset_s, found.low_s, found.high_s)
    return (
        body, clock.frames, clock.how, offset, found.confidence, found.bursts,
        found.share_in_plays,
    )  # fmt: skip


def _shares(match: CaptureMatch) -> Table:
    """Frames of a play, between plays, and those that the clock leaves open; they add up to 1."""
    sure = [c.play for c, certain in zip(match.captures, match.sure, strict=True) if certain]
    between = sure.count(None)
    counts = {
        "of a play": len(sure) - between,
        "between plays": between,
        "unsure": match.frames_unsure,
    }
    rows = tuple((name, count, count / max(match.frames, 1)) for name, count in counts.items())
    note = "Unsure: of another play, or of none, somewhere in what is known of the camera's clock."
    return Table("shares", "", _SHARES, rows, note=note)


def _unsure(match: CaptureMatch) -> tuple[str, ...]:
    count = sum(
        not certain and capture.play is not None
        for capture, certain in zip(match.captures, match.sure, strict=True)
    )
    if match.captions is None or not count:
        return ()
    return (
        f"{count:,} caption{' is' if count == 1 else 's are'} unsure: the play may be the one "
        "before or after. The table says no under sure; look at those before they are sent.",
    )


def captions_table(plays: Sequence[PlayCaption], *, detail: bool = False) -> Table:
    """A row a play: its frames, and what the first of them says."""
    rows = tuple((play.play, play.frames, play.unsure, play.caption) for play in plays)
    return Table("captions", "Captions", _CAPTIONS, rows, detail=detail)


def placeholders_section() -> Section:
    """What a template may hold."""
    lines = tuple(f"[{name}]: {what}" for name, what in PLACEHOLDERS.items())
    rule = "Bars split a template; a part with a placeholder of which nothing is known is left out"
    return Section("What a template may hold", (*lines, rule), detail=True)


def _captions_section(written: WrittenCaptions, *, done: bool) -> Section:
    frames = sum(play.frames for play in written.plays)
    lines = [
        f"{frames:,} frames of {len(written.plays)} plays have a caption",
        f"Sidecars: {written.new:,} new, {written.changed:,} with the caption added, "
        f"{written.same:,} as they are to be, {written.kept:,} keep the description they have",
        f"Table: {written.table}",
    ]
    if written.copies or written.copies_there:
        lines.append(
            f"Copies with the caption inside: {written.copies:,} made, {written.copies_there:,} "
            "there already; every image decodes to the same as its original"
        )
    return Section("Captions" if done else "Captions, if this were no dry run", tuple(lines))


def _left(what: str, skipped: Sequence[Skipped]) -> tuple[Section, ...]:
    if not skipped:
        return ()
    title = f"{len(skipped)} file{'' if len(skipped) == 1 else 's'} {what}"
    return (Section(title, tuple(f"{one.file}: {one.reason}" for one in skipped)),)
