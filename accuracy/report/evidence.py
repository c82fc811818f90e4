"""Everything a report says of one tested sensor, as figures, before it becomes tables and sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from accuracy.core.agreement.conditions import ConditionError
from accuracy.core.agreement.pooled import PooledAgreement, pool
from accuracy.core.agreement.pooled_conditions import PooledCondition, pool_conditions
from accuracy.core.agreement.recovery_difference import RecoveryDifference
from accuracy.core.agreement.regression import FEWEST_SESSIONS
from accuracy.core.evaluation.folds import HeldOut
from accuracy.core.traces.faults import Departure, departures
from accuracy.models import Pair
from accuracy.services.pair_report import Flagged
from accuracy.services.pooled_agreement import SHOWN_EPOCH, Traces, after_each_other
from trainlog.models import Sensor

START_SECONDS = 60
"""Seconds after a session's start up to which a part counts as its beginning, for lock-on (ours)."""


@dataclass(frozen=True, eq=False)
class PartPair:
    """One usable pair: a part that the sensor and a reference recorded.

    Attributes
    ----------
    label : str
        Of the session, with a letter where the session has several parts: "3", "3b".
    day : str or None
        ISO day; None in an anonymised report.
    agreement : mapping
        Figures by second, as they are kept of the pair.
    loads : tuple of float or None
        Training impulse by reference and by tested sensor over the common seconds; None without physiology.
    held_out : HeldOut or None
        What the correction made of it; None where nothing was learned from other workouts.
    """

    pair: Pair
    label: str
    day: str | None
    activity: str
    family: str
    reference: str
    firmware: str | None
    traces: Traces
    agreement: Mapping[str, Any]
    loads: tuple[float, float] | None
    recovery: RecoveryDifference | None
    flagged: Sequence[Flagged]
    by_intensity: Sequence[ConditionError]
    by_direction: Sequence[ConditionError]
    held_out: HeldOut | None

    @property
    def load_ratio(self) -> float | None:
        """Tested over reference load; None where the reference has none."""
        if self.loads is None or min(self.loads) <= 0:
            return None
        return self.loads[1] / self.loads[0]

    @property
    def load_difference(self) -> float | None:
        """Per cent by which the tested load differs."""
        ratio = self.load_ratio
        return None if ratio is None else 100 * (ratio - 1)

    @property
    def common_minutes(self) -> float:
        """Minutes that both sensors have."""
        return self.pair.common_seconds / 60

    @property
    def begins_session(self) -> bool:
        """Whether the session begins with it, so that the sensor had to find the rate anew."""
        waited = (self.pair.part.start - self.pair.part.workout.start).total_seconds()
        return waited <= START_SECONDS

    @property
    def lock_on_seconds(self) -> float | None:
        """Seconds until locked on; None if never."""
        return self.agreement.get("lock_on_seconds")

    @cached_property
    def departures(self) -> list[Departure]:
        """Stretches of a minute and more on which the sensor is far off."""
        return departures(*self.traces)

    @cached_property
    def means(self) -> tuple[float, float]:
        """Mean reference and tested rate over the common seconds, bpm."""
        reference, tested = self.traces
        return float(np.nanmean(reference)), float(np.nanmean(tested))


@dataclass(frozen=True, eq=False)
class Session:
    """A workout: the parts of it that make pairs, one sample of the report."""

    number: int
    parts: Sequence[PartPair]

    @property
    def name(self) -> str:
        """For example "session 3"."""
        return f"session {self.number}"

    @cached_property
    def traces(self) -> Traces:
        """Both traces, the parts after each other."""
        return after_each_other([part.traces for part in self.parts])

    @property
    def load_ratio(self) -> float | None:
        """Tested over reference load of all its parts that have one."""
        loads = [part.loads for part in self.parts if part.load_ratio is not None and part.loads]
        reference, tested = (sum(one[side] for one in loads) for side in (0, 1))
        return tested / reference if loads else None


@dataclass(frozen=True)
class SetAside:
    """A pair that no figure rests on, and why."""

    label: str
    day: str | None
    activity: str
    common_minutes: float
    common_share: float
    why: str


@dataclass(frozen=True, eq=False)
class SensorEvidence:
    """All evidence on one tested sensor.

    Attributes
    ----------
    name : str
        As the report calls it.
    stem : str
        What names of its tables and figures begin with; empty where the report has one sensor.
    sessions : sequence of Session
        In order of time; usable pairs alone.
    set_aside : sequence of SetAside
    foretold_pairs : int
        Pairs of all sensors that the held-out fits could learn from.
    """

    sensor: Sensor
    name: str
    stem: str
    sessions: Sequence[Session]
    set_aside: Sequence[SetAside]
    foretold_pairs: int = 0
    _kept: dict[Any, Any] = field(default_factory=dict)

    @cached_property
    def parts(self) -> list[PartPair]:
        """All usable pairs in order of time."""
        return [part for session in self.sessions for part in session.parts]

    @cached_property
    def activities(self) -> dict[str, list[PartPair]]:
        """Usable pairs by activity, the one with most of them first; of equals the one that came first."""
        found: dict[str, list[PartPair]] = {}
        for part in self.parts:
            found.setdefault(part.activity, []).append(part)
        return dict(sorted(found.items(), key=lambda item: -len(item[1])))

    @property
    def hours(self) -> float:
        """Hours that both sensors have."""
        return sum(part.common_minutes for part in self.parts) / 60

    @property
    def references(self) -> list[str]:
        """References by name, each once."""
        return list(dict.fromkeys(part.reference for part in self.parts))

    def file(self, name: str) -> str:
        """Stem of a file."""
        return f"{self.stem}{name}"

    def pooled(self, epoch_seconds: int = SHOWN_EPOCH) -> PooledAgreement | None:
        """Agreement over all sessions; None where no session has two epochs of that length."""
        return self._pool(
            ("all", epoch_seconds), [session.traces for session in self.sessions], epoch_seconds
        )

    def pooled_on(self, activity: str) -> PooledAgreement | None:
        """Agreement over the sessions of one activity."""
        sessions = by_session(self.activities[activity])
        traces = [after_each_other([part.traces for part in parts]) for parts in sessions]
        return self._pool(("activity", activity), traces, SHOWN_EPOCH)

    def _pool(self, key: Any, traces: Sequence[Traces], epoch_seconds: int) -> PooledAgreement | None:
        if key not in self._kept:
            try:
                self._kept[key] = pool(traces, epoch_seconds=epoch_seconds)
            except ValueError:  # sessions of seconds: nothing to compare at this length
                self._kept[key] = None
        found: PooledAgreement | None = self._kept[key]
        return found

    @cached_property
    def by_intensity(self) -> list[PooledCondition]:
        """Error by band of heart-rate reserve; empty without physiology."""
        return _pooled_conditions([part.by_intensity for part in self.parts], self.parts)

    @cached_property
    def by_direction(self) -> list[PooledCondition]:
        """Error while the reference rises, stays level and falls; empty without physiology."""
        return _pooled_conditions([part.by_direction for part in self.parts], self.parts)

    @cached_property
    def held_out(self) -> list[HeldOut]:
        """What the correction made of each pair, learned from other workouts."""
        return [part.held_out for part in self.parts if part.held_out is not None]

    @cached_property
    def load_ratios(self) -> list[float]:
        """Tested over reference load of each session that has one."""
        return [ratio for session in self.sessions if (ratio := session.load_ratio) is not None]

    @cached_property
    def starts(self) -> list[PartPair]:
        """Pairs with which a session began."""
        return [part for part in self.parts if part.begins_session]


def by_session(parts: Sequence[PartPair]) -> list[list[PartPair]]:
    """Parts of each workout together, in order."""
    found: dict[int, list[PartPair]] = {}
    for part in parts:
        found.setdefault(part.pair.part.workout_id, []).append(part)
    return list(found.values())


def _pooled_conditions(
    rows: Sequence[Sequence[ConditionError]], parts: Sequence[PartPair]
) -> list[PooledCondition]:
    """Pooled over sessions: parts of one workout are one sample."""
    known = [part for part, own in zip(parts, rows, strict=True) if own]
    own_rows = {id(part): own for part, own in zip(parts, rows, strict=True)}
    sessions = [_together([own_rows[id(part)] for part in own]) for own in by_session(known)]
    return pool_conditions(sessions) if sessions else []


def _together(parts: Sequence[Sequence[ConditionError]]) -> Sequence[ConditionError]:
    """Conditions of a session from those of its parts."""
    if len(parts) == 1:
        return parts[0]
    return [
        ConditionError(
            one.condition,
            one.seconds,
            one.bias,
            one.sd,
            one.mean_absolute_error,
            one.mean_absolute_percentage_error,
            one.share_within_either,
            math.nan,
        )
        for one in pool_conditions(parts)
    ]


def enough(sessions: int) -> bool:
    """Whether limits over sessions are given: with fewer, how sessions differ is not known."""
    return sessions >= FEWEST_SESSIONS
