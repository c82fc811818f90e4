"""Whether a correction earns its name: each session held out in turn, corrected by what the others teach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.priors import WRIST
from accuracy.core.profile import Cell, PairedLoads, learn
from trainlog.load.draws import interval
from trainlog.trace import FloatArray

KIND = "wrist"


@dataclass(frozen=True)
class HeldOut:
    """One session's pair.

    Attributes
    ----------
    name : str
        How the table calls it.
    workout : str
        Everything with the same workout is held out together.
    pair : PairedLoads
        Its evidence.
    reference_load : float
        Load by the reference over the common seconds.
    """

    name: str
    workout: str
    pair: PairedLoads
    reference_load: float

    @property
    def raw_load(self) -> float:
        """Load by the tested sensor over the same seconds."""
        return float(self.reference_load / np.exp(self.pair.log_ratio))


@dataclass(frozen=True)
class Outcome:
    """What became of one held-out session.

    Attributes
    ----------
    session : HeldOut
    pairs : int
        Pairs of the same sensor and activity left to learn from.
    corrected, low, high : float
        Median and 80% interval of the corrected load.
    prior_width, width : float
        Width of the 80% interval over the reference's load, before any pair and after learning.
    """

    session: HeldOut
    pairs: int
    corrected: float
    low: float
    high: float
    prior_width: float
    width: float

    @property
    def raw_error(self) -> float:
        """Error of the load as it stands, in per cent of the reference's."""
        return 100 * (self.session.raw_load / self.session.reference_load - 1)

    @property
    def corrected_error(self) -> float:
        """Error of the corrected load, in per cent of the reference's."""
        return 100 * (self.corrected / self.session.reference_load - 1)

    @property
    def covers(self) -> bool:
        """Whether the 80% interval holds the reference's load."""
        return self.low <= self.session.reference_load <= self.high


@dataclass(frozen=True)
class Summary:
    """Outcomes of a set of sessions together; errors and widths in per cent of the reference's load."""

    sessions: int
    raw_error: float
    corrected_error: float
    width: float
    prior_width: float
    covered: int

    @property
    def earns_its_name(self) -> bool:
        """Nearer than raw on average, and narrower than the prior."""
        return self.corrected_error < self.raw_error and self.width < self.prior_width


def leave_one_workout_out(sessions: Sequence[HeldOut], *, seed: int) -> list[Outcome]:
    """Correct every session by what all other workouts teach.

    Parameters
    ----------
    sessions : sequence of HeldOut
    seed : int
        Seed of the shared draws.

    Returns
    -------
    list of Outcome
        In the order of the sessions.
    """
    before_any_pair = learn([], WRIST, seed=seed, kind=KIND)
    outcomes = []
    for session in sessions:
        others = [other.pair for other in sessions if other.workout != session.workout]
        learned = learn(others, WRIST, seed=seed, kind=KIND)
        cell, content = session.pair.cell, session.pair.content
        low, corrected, high = interval(_loads(session, learned.further_session(cell, content)))
        prior_low, _, prior_high = interval(_loads(session, before_any_pair.further_session(cell, content)))
        outcomes.append(
            Outcome(
                session=session,
                pairs=learned.pairs_of(cell),
                corrected=corrected,
                low=low,
                high=high,
                prior_width=100 * (prior_high - prior_low) / session.reference_load,
                width=100 * (high - low) / session.reference_load,
            )
        )
    return outcomes


def summarise(outcomes: Sequence[Outcome]) -> Summary:
    """Mean absolute errors, mean widths and count of intervals that cover."""
    return Summary(
        sessions=len(outcomes),
        raw_error=float(np.mean([abs(outcome.raw_error) for outcome in outcomes])),
        corrected_error=float(np.mean([abs(outcome.corrected_error) for outcome in outcomes])),
        width=float(np.mean([outcome.width for outcome in outcomes])),
        prior_width=float(np.mean([outcome.prior_width for outcome in outcomes])),
        covered=sum(outcome.covers for outcome in outcomes),
    )


def evidence(
    name: str, cell: Cell, reference_load: float, tested_load: float, *, workout: str, content: str
) -> HeldOut:
    """A session to be held out, from both loads over the common seconds."""
    return HeldOut(
        name, workout, PairedLoads(cell, float(np.log(reference_load / tested_load)), content), reference_load
    )


def _loads(session: HeldOut, log_ratio: FloatArray) -> FloatArray:
    return session.raw_load * np.exp(log_ratio)
