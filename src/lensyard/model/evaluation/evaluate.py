"""The evidence: this model beside baselines on a season that none of them has seen.

Also what a club's own tendencies would add to the odds of the kinds of play, by a
Dirichlet-multinomial posterior mean: the club's counts of earlier plays are added to the model's
expected ones, so a club's share of a kind moves by ``(count + K) / (expected + K)`` with K plays'
worth of doubt. Not used in answers: on professional plays the gain is next to nothing
(``lensyard evidence tendencies`` measures it), and a photographer's model knows no clubs.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import field
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.errors import DataError, InvalidInputError, UnknownNameError, require_positive
from lensyard.model.evaluation.baselines import (
    BASELINES,
    SeasonForecast,
    baseline_forecast,
    has_lightgbm,
    model_forecast,
)
from lensyard.model.evaluation.kicks import (
    DriveCheck,
    FourthDowns,
    check_drives,
    score_fourth_downs,
)
from lensyard.model.evaluation.scores import (
    ProbabilityCheck,
    Truth,
    ZoneCheck,
    binary_log_loss,
    bootstrap_interval,
    brier,
    calibration_slope,
    check_probabilities,
    check_zones,
    crps_yd,
    expected_calibration_error,
    log_loss,
    pit_deciles,
    slope_interval,
    truth_of,
)
from lensyard.model.fitting.fit import fit_outcome
from lensyard.model.fitting.prior import as_counted
from lensyard.model.outcome import OutcomeModel
from lensyard.model.outcome_grid import GAINS_YD, KINDS
from lensyard.model.plays import batch_of, kind_index, live_plays, select_seasons, without_unknown
from lensyard.records import Record
from lensyard.stats import bootstrap_games

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.outcome import OutcomeModel


OWN: Final = "lensyard"
MODELS: Final = (OWN, *BASELINES)
CLIPPING: Final = (
    "Gains in bins of 1 yd from -20 (longer losses count as -20) to the goal line (a touchdown "
    "gains the yards to it) and not behind the own goal line; probabilities in logarithms are "
    "floored at 1e-6."
)

CAUTIONS: Final = (
    "One season is one draw: its own drift moves every figure by more than the intervals of its "
    "games show.",
)


class ModelScores(Record):
    """The scores of one model; lower is better but for slopes (1) and the PIT (.1 each).

    - ``scores``: by name: CRPS [yd] and log-loss [nat] of the gain, slope and expected calibration
      error of P(gain of 10 yd or more), log-loss over the six kinds, Brier score and log-loss of
      touchdowns, first downs, drive touchdowns and out of bounds, and calibration of two.
    - ``fit_s``, ``predict_us``, ``size_bytes``: seconds to fit, microseconds a play, bytes kept.
    - ``low``, ``high``: 95 % intervals by name of the score, from drawing games again.
    - ``versus_low``, ``versus_high``: the same of the difference from the first model (this one
      less that), in pairs.
    """

    name: str
    scores: Mapping[str, float] = field(metadata={"json": "*"})
    pit_deciles: tuple[float, ...]
    fit_s: float
    predict_us: float
    size_bytes: int
    low: Mapping[str, float]
    high: Mapping[str, float]
    versus_low: Mapping[str, float]
    versus_high: Mapping[str, float]


class FittedModel(Record):
    """What was fitted: on which seasons and how many plays, with the hash of them."""

    id: str
    seasons: tuple[int, ...]
    plays: int
    data_sha256: str


class Evaluation(Record):
    """All of the evidence on one held-out season of so many plays and games.

    ``models`` starts with the own one; ``zones`` and ``checks`` are its calibration by part of the
    field and by probability, ``drives`` that of how drives end by down, ``fourth_down`` the choice
    there beside a table.
    """

    season: int
    train_seasons: tuple[int, ...]
    plays: int
    games: int
    models: tuple[ModelScores, ...]
    zones: tuple[ZoneCheck, ...]
    checks: tuple[ProbabilityCheck, ...]
    drives: tuple[DriveCheck, ...]
    fourth_down: FourthDowns
    model: FittedModel
    clipping: str = CLIPPING
    cautions: tuple[str, ...] = CAUTIONS


def evaluate(
    plays: pd.DataFrame,
    *,
    season: int,
    train_seasons: Sequence[int],
    models: Sequence[str] = MODELS,
    artifact_bytes: Callable[[OutcomeModel], int] | None = None,
    draws: int = 200,
    seed: int = 0,
    saved: OutcomeModel | None = None,
) -> Evaluation:
    """Fit the model and baselines on some seasons and score them on a later one.

    - ``plays``: canonical plays of all these seasons, kicks included.
    - ``season``, ``train_seasons``: the held-out season, and what is fitted: all before it.
    - ``models``: some of `MODELS`; ``lensyard`` is always scored. LightGBM is left out where it is
      not installed.
    - ``artifact_bytes``: returns the size of a model on disk; by default that of its arrays.
    - ``draws``, ``seed``: how often games are drawn again for the intervals, and the seed of the
      draws.
    - ``saved``: a model that is scored in place of a new fit.

    Raises `InvalidInputError` if a training season is not before the held-out one, or a model is
    unknown; `DataError` if a season has no plays.
    """
    alone = saved is not None and not set(models) & set(BASELINES)
    if not alone:
        check_request(season=season, train_seasons=train_seasons, models=models)
    plays = without_unknown(plays)
    if saved is not None and season in saved.manifest.seasons:
        raise InvalidInputError(f"the model {saved.model_id} was fitted on season {season}")
    held_out = select_seasons(plays, [season])
    train = held_out.head(0) if alone else select_seasons(plays, train_seasons)
    test = live_plays(held_out)
    if test.empty:
        raise DataError(f"season {season} has no plays from scrimmage; import whole games")
    batch, truth = batch_of(test), truth_of(test)
    start = time.perf_counter()
    model = saved or fit_outcome(
        train, seasons=train_seasons, model_id=f"evaluated-{season}", season_for=season
    )
    fit_s = time.perf_counter() - start if saved is None else float("nan")
    size = sum(a.nbytes for a in model.arrays.values())
    if artifact_bytes is not None:
        size = artifact_bytes(model)
    forecasts = {OWN: model_forecast(model, batch, fit_s=fit_s, size_bytes=size)}
    for name in BASELINES:
        if name in models and (name != "lightgbm" or has_lightgbm()):
            forecasts[name] = baseline_forecast(name, live_plays(train), test)
    weights = bootstrap_games(int(truth.game.max()) + 1, seed=seed, draws=draws)
    manifest = model.manifest
    return Evaluation(
        season=season,
        train_seasons=manifest.seasons,
        plays=len(test),
        games=weights.shape[1],
        models=score_models(forecasts, truth, weights),
        zones=check_zones(forecasts[OWN], truth, batch),
        checks=check_probabilities(model, held_out, weights),
        drives=check_drives(model, held_out),
        fourth_down=score_fourth_downs(
            model,
            plays[plays["season"].isin(list(train_seasons))],
            held_out,
            draws=draws,
            seed=seed,
        ),
        model=FittedModel(
            OWN if saved is None else saved.model_id,
            manifest.seasons,
            manifest.plays,
            manifest.data_sha256,
        ),
        cautions=(*CAUTIONS, *_level_cautions(manifest.level_seasons, season)),
    )


def _level_cautions(level_seasons: Sequence[int], season: int) -> tuple[str, ...]:
    """Return what to say where counts of the season itself, or of later ones, moved the model."""
    if not level_seasons or season > max(level_seasons):
        return ()
    return (
        f"The levels of this model are counted on seasons {min(level_seasons)} to "
        f"{max(level_seasons)}: on {season} it is no forecast.",
    )


def check_request(*, season: int, train_seasons: Sequence[int], models: Sequence[str]) -> None:
    """Raise `InvalidInputError` for training seasons not before the season or unknown models."""
    if not train_seasons or max(train_seasons) >= season:
        raise InvalidInputError(
            f"training seasons must all lie before {season}; got {sorted(train_seasons)}"
        )
    for name in models:
        if name not in MODELS:
            raise UnknownNameError(name="model", value=name, known=MODELS)


def play_scores(forecast: SeasonForecast, truth: Truth) -> dict[str, FloatArray]:
    """Return every score that is a mean over plays, by name, each of shape (n,)."""
    scores = {
        "crps_yd": crps_yd(forecast.gain_pmf, truth.gain_index),
        "log_loss": log_loss(forecast.gain_pmf, truth.gain_index),
        "kind_log_loss": log_loss(as_counted(forecast.kind, truth.kind), truth.kind),
    }
    for name, p in forecast.p.items():
        happened = truth.happened[name]
        scores[f"{name}_brier"] = brier(p, happened)
        scores[f"{name}_log_loss"] = binary_log_loss(p, happened)
    return scores


def score_models(
    forecasts: Mapping[str, SeasonForecast], truth: Truth, weights: FloatArray
) -> tuple[ModelScores, ...]:
    """Return the scores of every forecast by name; the first is what the others are compared with.

    ``truth`` is what happened on the same n plays; the weights are those of
    `lensyard.stats.bootstrap_games`.
    """
    first = play_scores(next(iter(forecasts.values())), truth)
    return tuple(
        _scores(name, forecast, truth, weights, first) for name, forecast in forecasts.items()
    )


def _scores(
    name: str,
    forecast: SeasonForecast,
    truth: Truth,
    weights: FloatArray,
    first: Mapping[str, FloatArray],
) -> ModelScores:
    """Return the scores of one forecast beside those of the first, by play."""
    scores = play_scores(forecast, truth)
    spans = {key: bootstrap_interval(s, truth.game, weights) for key, s in scores.items()}
    versus = {
        key: bootstrap_interval(s - first[key], truth.game, weights) for key, s in scores.items()
    }
    ten = np.asarray(forecast.gain_pmf[:, GAINS_YD >= 10].sum(axis=1))
    gained = (truth.gain_yd >= 10).astype(np.float64)
    spans["slope_gain10"] = slope_interval(ten, gained, truth.game, weights)
    return ModelScores(
        name=name,
        scores={
            "slope_gain10": calibration_slope(ten, gained),
            "ece_gain10": expected_calibration_error(ten, gained),
            "touchdown_slope": calibration_slope(
                forecast.p["touchdown"], truth.happened["touchdown"]
            ),
            "drive_touchdown_ece": expected_calibration_error(
                forecast.p["drive_touchdown"], truth.happened["drive_touchdown"]
            ),
            **{key: float(score.mean()) for key, score in scores.items()},
        },
        pit_deciles=tuple(map(float, pit_deciles(forecast.gain_pmf, truth.gain_index))),
        fit_s=forecast.fit_s,
        predict_us=forecast.predict_us,
        size_bytes=forecast.size_bytes,
        low={key: span[0] for key, span in spans.items()},
        high={key: span[1] for key, span in spans.items()},
        versus_low={key: span[0] for key, span in versus.items()},
        versus_high={key: span[1] for key, span in versus.items()},
    )


DOUBT_PLAYS: Final = (25.0, 50.0, 100.0, 200.0, 400.0, 800.0)
"""Strengths tried; the best on the season before is used."""


def tilted(p: FloatArray, counts: FloatArray, expected: FloatArray, *, doubt: float) -> FloatArray:
    """Return the model's kind probabilities, (n, 6), moved toward what a club did before.

    ``counts`` are what the club did before each play and ``expected`` what the model expected of
    it, (n, 6); ``doubt`` plays by kind, > 0, hold the factor at 1.
    """
    require_positive(doubt=doubt)
    moved = p * (counts + doubt) / (expected + doubt)
    return np.asarray(moved / moved.sum(axis=1, keepdims=True))


def running_before(values: FloatArray, club: IntArray, week: IntArray) -> FloatArray:
    """Return sums over the same club's plays of earlier weeks, shape (n, k).

    Only whole weeks that lie before count, so no play of a game enters its own forecast.
    """
    clubs, weeks = int(club.max()) + 1, int(week.max()) + 1
    total = np.zeros((clubs, weeks, values.shape[1]))
    np.add.at(total, (club, week), values)
    before = np.cumsum(total, axis=1) - total
    return np.asarray(before[club, week])


class TendencyGain(Record):
    """Log-losses of the kind of play, by play, shape (n,): without and with clubs."""

    plain: FloatArray
    with_clubs: FloatArray
    game: IntArray

    @property
    def gain(self) -> float:
        """Mean gain a play; negative when clubs hurt. [nats]"""
        return float((self.plain - self.with_clubs).mean())

    @property
    def error(self) -> float:
        """Standard error of the gain, games being independent. [nats]"""
        difference = self.plain - self.with_clubs - self.gain
        by_game = np.bincount(self.game, weights=difference)
        return float(np.sqrt((by_game**2).sum()) / difference.shape[0])


def tendency_gain(
    model: OutcomeModel, plays: pd.DataFrame, *, doubt: float, one_club: bool = False
) -> TendencyGain:
    """Return log-losses on live plays of one season, clubs known from its earlier weeks.

    With ``one_club`` the whole league counts as one club: what is gained then is the drift of the
    season, not any club's tendency.
    """
    live = live_plays(plays)
    p = model.forecast(batch_of(live)).p_kind
    kind = kind_index(live)
    row = np.arange(kind.shape[0])
    club = np.unique(live["offense"].to_numpy(dtype=str), return_inverse=True)[1]
    club = club * 0 if one_club else club
    week = live["week"].to_numpy(dtype=np.int64)
    counts = running_before(np.eye(len(KINDS))[kind], club, week)
    expected = running_before(p, club, week)
    moved = tilted(p, counts, expected, doubt=doubt)
    return TendencyGain(
        plain=-np.log(p[row, kind]),
        with_clubs=-np.log(moved[row, kind]),
        game=np.unique(live["game_id"].to_numpy(dtype=str), return_inverse=True)[1],
    )
