"""All that was learned of the wrist: candidates side by side, weighed by what they foretold, one prediction.

Candidates differ in what the expected log ratio may depend on; each is a pooled regression. Their
predictions of every pair, its workout left out, give the weights and the width of their mixture. Draw k of
the mixture is draw k of one candidate, the same for every session of a family, so that what sessions share
stays shared.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from accuracy.core.learning.drift import DatedScore, Drift, find_drifts
from accuracy.core.learning.feature_range import range_along
from accuracy.core.learning.features import FEATURES, FEW, OF_TRACE
from accuracy.core.learning.leave_out import LeftOut, leave_workouts_out
from accuracy.core.learning.pooled_regression import fit
from accuracy.core.learning.priors import FAMILIES, WRIST
from accuracy.core.learning.profile import (
    Cell,
    Form,
    PairedLoads,
    Posterior,
    design,
    draws_of,
    learn,
    scale_draws,
)
from accuracy.core.learning.stacking import inflation, stacking_weights, standardised_scores
from accuracy.core.learning.trace_model import TraceEvidence, TraceModel, log_gain, trace_evidence
from accuracy.core.traces.states import States
from trainlog.load.draws import DRAWS, athlete_seed, stratified_uniforms
from trainlog.load.physiology import PhysiologyDraws
from trainlog.trace import FloatArray

KIND = "wrist"

RATING = FEATURES.index("rating")

CANDIDATES: Mapping[Form, float] = {
    Form("raw", cells=False): -1.0,
    Form("constant"): 0.0,
    Form("trace"): -1.0,
    Form("few features", features=tuple(range(len(FEW)))): 1.0,
    Form("all features", features=tuple(range(len(OF_TRACE)))): 0.0,
    Form("few features and rating", features=(*range(len(FEW)), RATING)): 1.0,
}
"""Forms, and the log weights expected of them before any pair (from development runs on simulated athletes;
common practice, no source)."""

NAMES = [form.name for form in CANDIDATES]

UNRATED, RATED = NAMES.index("few features"), NAMES.index("few features and rating")
"""The candidate that uses a session-RPE, and the one that stands in where there is none."""

LEANS = 0.25
"""Weight of the rated candidate from which a load is called one of wrist and rating combined."""

NEVER = -50.0
"""Log weight of a candidate that is not to be used."""

TRACE = "trace"
"""Form that takes the trace model's log ratio as given, for the pooled effects to add to."""

OF_KIND = FEATURES[: FEATURES.index("roughness")]
"""Features that tell what kind of session it was, and so whether any pair was like it."""

WEIGHED_DRAWS = 16
"""Draws of the scales over which left-out predictions are averaged."""


@dataclass(frozen=True, eq=False)
class WristSession:
    """What is known of a session from the wrist alone.

    Attributes
    ----------
    cell : Cell
    content : str
        Content hash; seeds what is peculiar to the session.
    features : array, shape (features,)
    states : States
        Of the wrist trace over the part.
    physiology : PhysiologyDraws
        In force on the day.
    day : int
        Ordinal of its day.
    """

    cell: Cell
    content: str
    features: FloatArray
    states: States
    physiology: PhysiologyDraws
    day: int = 0

    @property
    def rated(self) -> bool:
        """Whether a session-RPE was given."""
        return bool(np.isfinite(self.features[RATING]))


@dataclass(frozen=True, eq=False)
class WristPair:
    """A session worn with a reference.

    Attributes
    ----------
    session : WristSession
    log_ratio : float
        Log of the reference's load over the wrist's, over the seconds valid in both.
    common_states : States
        Over those seconds, with differences.
    workout : str
        All pairs of one workout are left out together.
    reference_seconds_at_rate : array, shape (256,)
        Histogram of the reference over those seconds.
    """

    session: WristSession
    log_ratio: float
    common_states: States
    workout: str
    reference_seconds_at_rate: FloatArray

    @property
    def reference_load(self) -> float:
        """Load by the reference, at the central physiology."""
        return self.session.physiology.central_load(self.reference_seconds_at_rate)

    @property
    def loads(self) -> PairedLoads:
        """The pair as an observation of the pooled regression."""
        one = self.session
        return PairedLoads(one.cell, self.log_ratio, one.content, one.features)


@dataclass(frozen=True, eq=False)
class Foretold:
    """A pair as foretold from the other workouts.

    Attributes
    ----------
    pair : WristPair
    score : float
        Standardised score after inflation: normal with mean 0 and standard deviation 1 if calibrated.
    """

    pair: WristPair
    score: float


@dataclass(frozen=True, eq=False)
class WristFit:
    """Everything learned of tested sensors from their pairs.

    Attributes
    ----------
    candidates : mapping of name to Posterior
    weights : array, shape (families, candidates)
    width : float
        Learned factor on the width of the mixture.
    trace_coefficients : mapping of group to array
        Of the trace model, for each instrument in a family; under "" those of one never seen.
    log_scores : mapping of name to float
        Mean left-out log density of each candidate; empty without pairs.
    drifts : mapping of group to Drift
        Changes of an instrument in a family that no firmware explains. Sessions since are taken as under
        new firmware, so older pairs count less for them.
    prior : Posterior
        Before any pair.
    """

    candidates: Mapping[str, Posterior]
    weights: FloatArray
    width: float
    trace_coefficients: Mapping[str, FloatArray]
    log_scores: Mapping[str, float]
    drifts: Mapping[str, Drift]
    prior: Posterior

    @property
    def pooled(self) -> Posterior:
        """The candidate of plain pooled ratios."""
        return self.candidates["constant"]

    def predictions(self, session: WristSession) -> dict[str, FloatArray]:
        """Draws of the log ratio of true to recorded load by each candidate, shape (DRAWS,) each."""
        cell, content, features = dated_cell(session, self.drifts), session.content, session.features
        drawn = {
            name: posterior.further_session(cell, content, features)
            for name, posterior in self.candidates.items()
        }
        return drawn | {TRACE: drawn[TRACE] + self.gain(session)}

    def further_session(self, session: WristSession) -> FloatArray:
        """Draws of the log ratio of true to recorded load of a wrist-only session, shape (DRAWS,)."""
        predicted = np.array(list(self.predictions(session).values()))
        mixed = predicted[self._candidate_of_draw(session), np.arange(DRAWS)]
        centre = float(np.median(mixed))
        # Calibration on pairs lends no narrowness to a cell that has none.
        seen = dated_cell(session, self.drifts) in self.pooled.counts
        width = self.width if seen else max(self.width, 1.0)
        return centre + (mixed - centre) * width * self._widening(session, mixed)

    def leans_on_rating(self, session: WristSession) -> bool:
        """Whether a session's rating has a say in its prediction."""
        return session.rated and self.heeds_ratings(session.cell.family)

    def heeds_ratings(self, family: str) -> bool:
        """Whether pairs showed that a rating helps to foretell sessions of a family."""
        return bool(self.weights[FAMILIES.index(family), RATED] >= LEANS)

    def drift_of(self, session: WristSession) -> Drift | None:
        """Change of the sensor's error that a session comes after; None if there is none."""
        return _drift_before(session, self.drifts)

    def gain(self, session: WristSession) -> float:
        """Log ratio that the trace model expects."""
        coefficients = self.trace_coefficients.get(session.cell.group, self.trace_coefficients[""])
        return log_gain(session.states, coefficients, session.physiology)

    def outside(self, session: WristSession) -> dict[str, float]:
        """Features that lie beyond what the pairs of this kind of work showed, and how far.

        Returns
        -------
        dict of feature to float
            Usual departures beyond reach; empty where nothing was learned from pairs of the family.
        """
        ranges = self.candidates["all features"].ranges
        within = range_along(session.cell.path, ranges)
        if within is None:
            return {}
        excess = within.excess(session.features)
        return {name: float(excess[place]) for place, name in enumerate(OF_KIND) if excess[place] > 0}

    def _candidate_of_draw(self, session: WristSession) -> np.ndarray:
        """Candidate whose draw stands at each place of the mixture, shape (DRAWS,)."""
        cumulative = np.cumsum(self.weights[FAMILIES.index(session.cell.family)])
        uniforms = stratified_uniforms(athlete_seed(self.prior.seed, f"{KIND}/candidate"))
        chosen = np.searchsorted(cumulative, uniforms * cumulative[-1]).clip(0, len(cumulative) - 1)
        return chosen if session.rated else np.where(chosen == RATED, UNRATED, chosen)

    def _widening(self, session: WristSession, mixed: FloatArray) -> float:
        """Factor toward the prior's width as far as a session leaves what the pairs showed."""
        beyond = max(self.outside(session).values(), default=0.0)
        if beyond == 0:
            return 1.0
        before = float(np.std(self.prior.further_session(session.cell, session.content)))
        wider = max(before / max(float(np.std(mixed)), 1e-6) - 1, 0.0)
        return 1 + wider * beyond / (1 + beyond)


def _drift_before(session: WristSession, drifts: Mapping[str, Drift]) -> Drift | None:
    drift = drifts.get(session.cell.group)
    return drift if drift is not None and session.day >= drift.from_day else None


def dated_cell(session: WristSession, drifts: Mapping[str, Drift]) -> Cell:
    """Cell of a session, under a firmware of its own since its sensor's error changed."""
    drift = _drift_before(session, drifts)
    if drift is None:
        return session.cell
    return replace(session.cell, firmware=f"{session.cell.firmware}/changed {drift.from_day}")


def learn_wrist(pairs: Sequence[WristPair], *, seed: int) -> tuple[WristFit, list[Foretold]]:
    """Learn every candidate, their weights and the width of their mixture.

    Where the pairs as foretold show that a sensor's error changed, all is learned once more with the change
    as new firmware.

    Parameters
    ----------
    pairs : sequence of WristPair
        In any order; the result does not depend on it.
    seed : int
        The athlete's seed.

    Returns
    -------
    WristFit
    list of Foretold
        Every pair, its workout left out, in the order of content.
    """
    pairs = sorted(pairs, key=lambda pair: (pair.session.content, pair.session.cell.activity))
    learned, foretold = _learn(pairs, {}, seed)
    drifts = _current_drifts(foretold)
    return _learn(pairs, drifts, seed) if drifts else (learned, foretold)


def _current_drifts(foretold: Sequence[Foretold]) -> dict[str, Drift]:
    """Changes of an instrument in a family under the newest of its firmware versions with a pair."""
    newest: dict[str, tuple[int, str]] = {}
    for one in foretold:
        session = one.pair.session
        dated = session.day, session.cell.firmware
        newest[session.cell.group] = max(newest.get(session.cell.group, dated), dated)
    return find_drifts(
        DatedScore(one.pair.session.cell.group, one.pair.session.day, one.score)
        for one in foretold
        if one.pair.session.cell.firmware == newest[one.pair.session.cell.group][1]
    )


def _learn(pairs: list[WristPair], drifts: Mapping[str, Drift], seed: int) -> tuple[WristFit, list[Foretold]]:
    prior = learn([], WRIST, seed=seed, kind=KIND)
    workouts = _workouts(pairs)
    trace = TraceModel([_trace_evidence(pair) for pair in pairs])
    gains = _gains(pairs, workouts, trace)
    loads = [replace(pair.loads, cell=dated_cell(pair.session, drifts)) for pair in pairs]
    candidates: dict[str, Posterior] = {}
    left_out: list[LeftOut] = []
    for form in CANDIDATES:
        designed = design(loads, WRIST, form, gains if form.name == TRACE else None)
        fitted = fit(designed.problem)
        candidates[form.name] = draws_of(designed, fitted, seed=seed, kind=KIND)
        hyper = scale_draws(fitted, seed=seed, kind=KIND)[:: DRAWS // WEIGHED_DRAWS]
        left_out.append(leave_workouts_out(fitted, workouts, hyper))
    log_density = np.column_stack([one.log_density for one in left_out])
    expected = np.array(list(CANDIDATES.values()))
    if log_density[:, RATED].sum() <= log_density[:, UNRATED].sum():
        expected[RATED] = NEVER
    family = np.array([FAMILIES.index(pair.session.cell.family) for pair in pairs], dtype=int)
    weights = stacking_weights(log_density, family, len(FAMILIES), expected)
    probability = (np.column_stack([one.probability for one in left_out]) * weights[family]).sum(axis=1)
    scores = standardised_scores(probability)
    width = inflation(scores)
    learned = WristFit(
        candidates=candidates,
        weights=weights,
        width=width,
        trace_coefficients={group: trace.coefficients(group) for group in ("", *trace.groups)},
        log_scores=dict(zip(NAMES, log_density.mean(axis=0).tolist(), strict=True)) if pairs else {},
        drifts=drifts,
        prior=prior,
    )
    return learned, [Foretold(pair, float(score / width)) for pair, score in zip(pairs, scores, strict=True)]


def _workouts(pairs: Sequence[WristPair]) -> list[list[int]]:
    places: dict[str, list[int]] = {}
    for place, pair in enumerate(pairs):
        places.setdefault(pair.workout, []).append(place)
    return list(places.values())


def _trace_evidence(pair: WristPair) -> TraceEvidence:
    return trace_evidence(pair.session.cell.group, pair.common_states, pair.session.physiology)


def _gains(pairs: Sequence[WristPair], workouts: Sequence[Sequence[int]], trace: TraceModel) -> FloatArray:
    """Log ratio that the trace model expects of each pair, from the other workouts."""
    gains = np.zeros(len(pairs))
    for places in workouts:
        for place, coefficients in zip(places, trace.without(places), strict=True):
            session = pairs[place].session
            gains[place] = log_gain(session.states, coefficients, session.physiology)
    return gains
