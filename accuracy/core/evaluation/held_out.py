"""Whether a correction earns its name: sessions predicted by what other workouts teach, and how well.

References
----------
Gneiting T, Raftery AE (2007). Strictly proper scoring rules, prediction, and estimation. J Am Stat Assoc
102:359-378 (interval score, continuous ranked probability score).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from accuracy.core.estimates.correct import Recorded, gap_factor
from accuracy.core.learning.leave_out import COVERAGES
from accuracy.core.learning.wrist_fit import WristFit, WristPair, WristSession, learn_wrist
from trainlog.load.draws import interval
from trainlog.trace import FloatArray

AS_IT_STANDS, PUBLISHED = "as it stands", "published"
"""Methods beside the candidates: the wrist's load without a word, and what an athlete is shown."""


@dataclass(frozen=True, eq=False)
class Trial:
    """A session whose true load is known and is to be predicted.

    Attributes
    ----------
    name : str
        How tables call it.
    athlete : str
        Errors and coverages are averaged within athletes before their spread is taken.
    session : WristSession
    recorded_load : float
        Load of the wrist's valid seconds.
    true_load : float
        Load of the seconds that the prediction is for.
    filling : array, shape (DRAWS,), or float
        Factor for the wrist's missing seconds; 1 where the true load is of the same seconds.
    """

    name: str
    athlete: str
    session: WristSession
    recorded_load: float
    true_load: float
    filling: FloatArray | float = 1.0


@dataclass(frozen=True, eq=False)
class PairTrial:
    """A pair that can be held out: what it teaches, and what it is to be predicted as."""

    pair: WristPair
    trial: Trial


def held_out(name: str, athlete: str, pair: WristPair) -> PairTrial:
    """Pair to be held out: its load is to be predicted over the seconds valid in both traces."""
    recorded = pair.reference_load / float(np.exp(pair.log_ratio))
    return PairTrial(pair, Trial(name, athlete, pair.session, recorded, pair.reference_load))


def whole_part(
    name: str, athlete: str, session: WristSession, load: float, recorded: Recorded, true_load: float
) -> Trial:
    """Trial of a wrist-only part as a whole, its missing seconds drawn."""
    return Trial(name, athlete, session, load, true_load, gap_factor(recorded))


def predictions(fit: WristFit, trial: Trial) -> dict[str, FloatArray]:
    """Draws of a trial's load by each method; a single value for the load as it stands."""
    session = trial.session
    as_it_stands = trial.recorded_load * np.asarray(trial.filling, dtype=float)
    loads = {AS_IT_STANDS: np.atleast_1d(np.median(as_it_stands))}
    for name, log_ratio in fit.predictions(session).items():
        loads[name] = as_it_stands * np.exp(log_ratio)
    return loads | {PUBLISHED: as_it_stands * np.exp(fit.further_session(session))}


def scores(fit: WristFit, trial: Trial, *, pairs: int) -> list[dict[str, object]]:
    """Scores of every method on a trial, a row each.

    Parameters
    ----------
    fit : WristFit
        Learned without the trial's workout.
    trial : Trial
    pairs : int
        How the row is labelled: pairs of the same sensor and activity that were learned from.
    """
    cell = trial.session.cell
    common = {
        "name": trial.name,
        "athlete": trial.athlete,
        "family": cell.family,
        "activity": cell.activity,
        "pairs": pairs,
        "true_load": trial.true_load,
    }
    return [
        common | {"method": method} | _scores(draws, trial.true_load)
        for method, draws in predictions(fit, trial).items()
    ]


def _scores(draws: FloatArray, truth: float) -> dict[str, float]:
    """Scores of draws of a load, in per cent of the truth."""
    relative = 100 * (draws / truth - 1)
    low, median, high = interval(relative)
    ordered = np.sort(relative)
    count = len(ordered)
    # Of equally likely values: mean distance from the truth less half the mean distance between two.
    between = 2 * float(ordered @ (2 * np.arange(1, count + 1) - count - 1)) / count**2
    row = {
        "error": median,
        "log_error": float(np.log(1 + median / 100)),
        "low": low,
        "high": high,
        "width": high - low,
        "interval_score": high - low + 10 * max(low, 0.0) + 10 * max(-high, 0.0),
        "crps": float(np.mean(np.abs(relative))) - between / 2,
        "probability": float(np.mean(relative < 0) + 0.5 * np.mean(relative == 0)),
    }
    tails = (1 - np.array(COVERAGES)) / 2
    lower, upper = np.quantile(ordered, [tails, 1 - tails])
    for coverage, holds in zip(COVERAGES, (lower <= 0) & (upper >= 0), strict=True):
        row[f"covers_{100 * coverage:.0f}"] = float(holds)
    return row


def leave_one_workout_out(held: Sequence[PairTrial], *, seed: int) -> pd.DataFrame:
    """Predict every pair by what all other workouts teach; everything is learned anew each time."""
    return _held_out(held, seed, lambda one, other: other.pair.workout != one.pair.workout)


def forward_in_time(held: Sequence[PairTrial], *, seed: int, least: int = 2) -> pd.DataFrame:
    """Predict every pair by the workouts before it, from the one with ``least`` pairs before it on.

    Parameters
    ----------
    held : sequence of PairTrial
        In order of time.
    seed : int
    least : int
    """
    order = {id(one): place for place, one in enumerate(held)}
    return _held_out(
        held,
        seed,
        lambda one, other: order[id(other)] < order[id(one)] and other.pair.workout != one.pair.workout,
        least=least,
    )


def _held_out(
    held: Sequence[PairTrial],
    seed: int,
    teaches: Callable[[PairTrial, PairTrial], bool],
    *,
    least: int = 1,
) -> pd.DataFrame:
    """Scores of every pair that at least so many others teach something of."""
    rows: list[dict[str, object]] = []
    for one in held:
        others = [other.pair for other in held if teaches(one, other)]
        if len(others) < least:
            continue
        fit, _ = learn_wrist(others, seed=seed)
        rows += scores(fit, one.trial, pairs=fit.pooled.pairs_of(one.pair.session.cell))
    return pd.DataFrame(rows)


def table(rows: pd.DataFrame, by: Iterable[str]) -> pd.DataFrame:
    """Mean figures with standard errors over athletes and the spread between athletes.

    Parameters
    ----------
    rows : DataFrame
        Of ``scores``.
    by : iterable of str
        Columns to group by; the method comes on top.

    Returns
    -------
    DataFrame
        Indexed by group and method. ``trials``, ``athletes``; each figure, its standard error (``± …``) and
        the standard deviation between athletes' own means (``between …``).
    """
    groups = [*by, "method"]
    figures = pd.DataFrame(
        {
            "absolute error": rows["error"].abs(),
            "median absolute error": rows["error"].abs(),
            "absolute log error": rows["log_error"].abs(),
            "interval score": rows["interval_score"],
            "crps": rows["crps"],
            "width": rows["width"],
        }
        | {f"coverage {100 * one:.0f}": 100 * rows[f"covers_{100 * one:.0f}"] for one in COVERAGES}
    )
    figures = pd.concat([rows[[*groups, "athlete"]], figures], axis=1)
    of_athlete = figures.groupby([*groups, "athlete"], observed=True)
    own = of_athlete.mean().assign(**{"median absolute error": of_athlete["median absolute error"].median()})
    over = own.groupby(level=groups, observed=True)
    mean, spread, athletes = over.mean(), over.std(), over.size()
    errors = spread.div(np.sqrt(athletes), axis=0)
    result = pd.DataFrame({"trials": figures.groupby(groups, observed=True).size(), "athletes": athletes})
    for figure in mean.columns:
        result[figure] = mean[figure]
        result[f"± {figure}"] = errors[figure]
        result[f"between {figure}"] = spread[figure]
    return result
