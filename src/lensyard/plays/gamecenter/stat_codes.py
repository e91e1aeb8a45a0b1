"""Which kind of play an entry tells of.

Statistic codes of the league's game feed, by what they tell.

The feed books one code for every fact of a play, each with a club and a number of yards. The
codes are facts of the feed; the names here are ours. A lateral has codes of its own: the passer's
and the first runner's yards do not hold the second runner's where it says "more".
"""

from __future__ import annotations

from typing import Final

BLOCKED_PUNT: Final = frozenset({2})
FIRST_DOWN: Final = frozenset({3, 4})
"""By a carry or a pass; a first down by penalty is 5."""
RUSH: Final = frozenset({10, 11})
RUSH_MORE: Final = frozenset({12, 13})
PASS_INCOMPLETE: Final = frozenset({14})
PASS_COMPLETE: Final = frozenset({15, 16})
PASS_INTERCEPTED: Final = frozenset({19})
SACKED: Final = frozenset({20})
INTERCEPTION_RETURN: Final = frozenset({25, 26, 27, 28})
PUNT: Final = frozenset({2, 29, 31, 32})
PUNT_DISTANCE: Final = frozenset({29, 31, 32})
PUNT_TOUCHBACK: Final = frozenset({32, 40})
PUNT_RETURN: Final = frozenset({33, 34, 35, 36})
PUNT_OUT: Final = frozenset({37})
FAIR_CATCH: Final = frozenset({39, 50})
KICKOFF: Final = frozenset({41, 42, 43, 44, 102, 107, 108})
KICKOFF_DISTANCE: Final = frozenset({41, 42, 43, 44})
KICKOFF_TOUCHBACK: Final = frozenset({44, 51})
KICKOFF_RETURN: Final = frozenset({45, 46, 47, 48})
KICKOFF_OUT: Final = frozenset({49})
KICKOFF_RECOVERED: Final = frozenset({107, 108})
FUMBLE_RETURN: Final = frozenset({59, 60, 61, 62})
FIELD_GOAL_MISSED: Final = frozenset({69})
FIELD_GOAL_MADE: Final = frozenset({70})
FIELD_GOAL_BLOCKED: Final = frozenset({71})
FIELD_GOAL: Final = FIELD_GOAL_MISSED | FIELD_GOAL_MADE | FIELD_GOAL_BLOCKED
EXTRA_POINT_MADE: Final = frozenset({72})
EXTRA_POINT_BLOCKED: Final = frozenset({74})
EXTRA_POINT: Final = frozenset({72, 73, 74, 301})
TWO_POINT_MADE: Final = frozenset({75, 77})
TWO_POINT: Final = frozenset({75, 76, 77, 78})
PENALTY: Final = frozenset({93})
FUMBLE_LOST: Final = frozenset({106})
AIR_COMPLETE: Final = frozenset({111})
AIR_INCOMPLETE: Final = frozenset({112})
AFTER_CATCH: Final = frozenset({113})
REPEATABLE: Final = frozenset({12, 23, 27, 35, 47, 61, 93})
"""One player can have these twice on one play: laterals and penalties."""
