"""Adapter: one game of the league's old game feed (JSON) becomes canonical plays.

What the source does and a reader would not expect is handled here and nowhere else:

- Order is the file's order; play ids do not follow the clock.
- `yrdln` is the spot before the snap, "CLUB n", a bare "50" at midfield, blank on timeouts.
- On kickoffs the row sits in the receiver's drive and `posteam` is the kicker.
- `ydsnet`, `note` and the drives' own fields tell what happened later and are never read.
- After "REVERSED" only the later text counts; the statistics are those of the final ruling.

Names of players and the text itself stay inside: no `Play` holds any.
"""

from __future__ import annotations

from lensyard.plays.gamecenter.game import ParsedGame, parse_game

__all__ = ["ParsedGame", "parse_game"]
