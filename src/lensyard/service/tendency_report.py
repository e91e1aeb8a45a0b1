"""What knowing the clubs would add: a measurement, so that nobody has to believe either way."""

from __future__ import annotations

from typing import Any

from lensyard.errors import DataError, InvalidInputError
from lensyard.service.context import SCHEMA_VERSION, Context


def tendencies_document(context: Context, *, season: int) -> dict[str, Any]:
    """Return the gain in log-loss from club tendencies on a season nobody fitted.

    The strength of the tilt is the best on the last fitted season; the season itself only scores.

    Raises
    ------
    InvalidInputError
        If the model was fitted on the season.
    DataError
        If the season, or the last fitted one, has no plays.
    """
    from lensyard.data.store import load_plays
    from lensyard.model.tendencies import DOUBT_PLAYS, tendency_gain

    fitted = context.model.manifest.seasons
    if season in fitted:
        raise InvalidInputError(
            f"the model {context.model.model_id} was fitted on season {season}; choose one that "
            "it has not seen"
        )
    earlier = load_plays(seasons=[fitted[-1]], season_type="REG")
    plays = load_plays(seasons=[season], season_type="REG")
    if earlier.empty or plays.empty:
        raise DataError(
            f"there are no plays of {season} or {fitted[-1]}; `lensyard data list` shows what "
            "there is"
        )
    doubt = max(DOUBT_PLAYS, key=lambda d: tendency_gain(context.model, earlier, doubt=d).gain)
    found = tendency_gain(context.model, plays, doubt=doubt)
    league = tendency_gain(context.model, plays, doubt=doubt, one_club=True)
    plain = float(found.plain.mean())
    return {
        "schema_version": SCHEMA_VERSION,
        "season": season,
        "plays": int(found.plain.shape[0]),
        "doubt_plays": doubt,
        "log_loss": plain,
        "log_loss_with_clubs": float(found.with_clubs.mean()),
        "gain": found.gain,
        "gain_error": found.error,
        "gain_share": found.gain / plain,
        "gain_of_season": league.gain,
        "used": False,
        "text": (
            f"Treating the whole league as one club gains {league.gain:+.5f}: that part is the "
            "season's drift. Clubs are not used in any answer."
        ),
        "model": context.model_facts(),
        "cautions": [],
    }
