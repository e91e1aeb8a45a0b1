"""What matching captures gave, as a report."""

from __future__ import annotations

from lensyard.features.captions.compute import BodyClock, CaptureMatch
from lensyard.render.report import Column, Format, Interval, Report, Section, Table, Value


def capture_report(match: CaptureMatch) -> Report:
    """Describe which frames belong to plays, and how each camera's clock was corrected."""
    columns = (
        Column("body", "Camera"),
        Column("frames", "Frames", Format.COUNT),
        Column("how", "Clock"),
        Column("offset_s", "Added, s", Format.SIGNED),
        Column("confidence", "Right with", Format.PERCENT_1),
        Column("bursts", "Bursts", Format.COUNT),
        Column("share_in_plays", "In plays", Format.PERCENT),
    )
    skipped = len(match.skipped)
    done = "the log has the counts" if match.written else "nothing was written"
    return Report(
        headline=(
            f"{match.frames_in_plays:,} of {match.frames:,} frames belong to "
            f"{match.plays_with_frames} of {match.logged_plays} plays of {match.game_id}; {done}"
        ),
        tables=(Table("clocks", "", columns, tuple(_clock(clock) for clock in match.clocks)),),
        sections=(
            Section(
                f"{skipped} file{'' if skipped == 1 else 's'} gave no time",
                tuple(f"{s.file}: {s.reason}" for s in match.skipped),
            ),
        )
        if skipped
        else (),
        cautions=match.warnings,
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
