"""What the pages of this app show, fetched for one athlete."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from accuracy import words
from accuracy.models import ErrorProfile, Pair, Stretch
from accuracy.services import wording
from accuracy.services.calibration import near_per_cent
from accuracy.services.firmware_history import histories_of
from accuracy.services.profiles import current_fit
from accuracy.shown import firmware
from accuracy.shown.bars import Bar, bars
from trainlog.load.trimp import RATES, histogram_load, load_per_minute
from trainlog.models import Activity, Athlete, Family, Part, Sensor
from trainlog.models.athlete import DatedPhysiology
from trainlog.web.words import DASH


@dataclass(frozen=True)
class Cell:
    """One sensor on one activity.

    ``bar`` draws the interval of its reading, and ``firmware`` says in a few words what versions changed,
    where a page shows many cells.
    """

    sensor: Sensor
    activity: Activity
    profile: ErrorProfile | None
    bar: Bar | None = None
    firmware: str = ""

    @property
    def held(self) -> tuple[int, int] | None:
        """How many of the cell's own left-out pairs the 80% intervals held, and of how many."""
        scores = self.profile.fit.calibration.get("by_cell", {}) if self.profile else {}
        own = np.array(scores.get(f"{self.sensor.key}/{self.activity.slug}", []), dtype=float)
        if not len(own):
            return None
        return int(np.sum(np.abs(2 * special.ndtr(own) - 1) <= 0.8)), len(own)

    @property
    def reading(self) -> str:
        """For example "reads 12% low"."""
        return words.reading(self.profile.ratio) if self.profile else ""

    @property
    def reading_range(self) -> str:
        """For example "4–19% low"."""
        return words.reading_range(self.profile.ratio_low, self.profile.ratio_high) if self.profile else ""

    @property
    def raw_chance(self) -> str:
        """Chance that the load as it stands lies near the strap's."""
        return words.chance(self.profile.raw_within_ten) if self.profile else ""

    @property
    def corrected_chance(self) -> str:
        """Chance that the corrected load does."""
        return words.chance(self.profile.within_ten) if self.profile else ""

    @property
    def near(self) -> int:
        """How near that is, in per cent."""
        return near_per_cent(self.profile.fit) if self.profile else 0

    @property
    def brief_remarks(self) -> list[str]:
        """Remarks of the profile in a few words each."""
        return [wording.brief(remark) for remark in self.profile.remarks] if self.profile else []


@dataclass(frozen=True)
class ActivityRow:
    """One activity across all tested sensors."""

    activity: Activity
    cells: Sequence[Cell]


@dataclass(frozen=True)
class PairLine:
    """One pair with the loads of both traces over their common seconds."""

    pair: Pair
    reference_load: float | None
    tested_load: float | None

    @property
    def ratio(self) -> float | None:
        """Tested over reference load."""
        if not self.reference_load or not self.tested_load:
            return None
        return self.tested_load / self.reference_load

    @property
    def difference(self) -> str:
        """Tested against reference load in per cent."""
        return words.difference(self.ratio) if self.ratio else DASH


@dataclass(frozen=True)
class FlaggedRecording:
    """Flagged stretches of one recording, in words."""

    name: str
    stretches: Sequence[str]


def matrix(athlete: Athlete, tested: Sequence[Sensor]) -> list[ActivityRow]:
    """Activities of which something is known, in the order of their families, with a cell for each sensor."""
    fit = current_fit(athlete)
    if fit is None:
        return []
    profiles = {
        (profile.sensor_id, profile.activity_id): profile
        for profile in ErrorProfile.objects.of(athlete)
        .filter(fit=fit)
        .select_related("activity", "sensor")
        .defer("agreement")
    }
    for profile in profiles.values():
        profile.fit = fit
    activities = {profile.activity_id: profile.activity for profile in profiles.values()}
    histories = histories_of(athlete, tested)
    drawn = _drawn(profiles)
    order = list(Family.values)

    def cell(sensor: Sensor, activity: Activity) -> Cell:
        key = (sensor.pk, activity.pk)
        history = histories.get(key)
        return Cell(
            sensor, activity, profiles.get(key), drawn.get(key), firmware.brief(history) if history else ""
        )

    return [
        ActivityRow(activity, [cell(sensor, activity) for sensor in tested])
        for activity in sorted(activities.values(), key=lambda row: (order.index(row.family), row.name))
    ]


def _drawn(profiles: Mapping[tuple[int, int], ErrorProfile]) -> dict[tuple[int, int], Bar]:
    """Bars of all readings on one scale."""
    spans = [
        tuple(words.per_cent_off(ratio) for ratio in (one.ratio_high, one.ratio, one.ratio_low))
        for one in profiles.values()
    ]
    return dict(zip(profiles, bars(spans), strict=True))


def cell_of(athlete: Athlete, sensor: Sensor, activity: Activity) -> Cell:
    """What was learned of one sensor on one activity."""
    fit = current_fit(athlete)
    if fit is None:
        return Cell(sensor, activity, None)
    profile = ErrorProfile.objects.of(athlete).filter(fit=fit, sensor=sensor, activity=activity).first()
    if profile:
        profile.fit = fit
    return Cell(sensor, activity, profile)


def pairs_of(athlete: Athlete, sensor: Sensor, activity: Activity) -> list[PairLine]:
    """Pairs of one sensor on one activity, newest first."""
    pairs = (
        Pair.objects.of(athlete)
        .filter(tested__sensor=sensor, part__activity=activity)
        .select_related("part__workout", "reference__sensor")
        .defer("reference__trace_blob", "reference_trace", "tested_trace")
        .order_by("-part__start", "pk")
    )
    physiology = athlete.physiology()
    return [_line(pair, physiology) for pair in pairs]


def pairs_of_part(athlete: Athlete, part: Part) -> list[PairLine]:
    """Pairs of one part."""
    pairs = (
        Pair.objects.of(athlete)
        .filter(part=part)
        .select_related("part__workout", "reference__sensor", "tested__sensor")
        .defer("reference__trace_blob", "tested__trace_blob", "reference_trace", "tested_trace")
        .order_by("tested__sensor__name", "pk")
    )
    physiology = athlete.physiology()
    return [_line(pair, physiology) for pair in pairs]


def flagged_of_part(athlete: Athlete, part: Part) -> list[FlaggedRecording]:
    """Flagged stretches of a part's recordings."""
    rows = (
        Stretch.objects.of(athlete)
        .filter(part=part)
        .select_related("recording__sensor")
        .defer("recording__trace_blob")
        .order_by("recording__start", "pk")
    )
    return [
        FlaggedRecording(
            row.recording.sensor.name if row.recording.sensor else row.recording.file_name,
            [words.flagged(start, end, reason) for start, end, reason in row.flags],
        )
        for row in rows
        if row.flags
    ]


def _line(pair: Pair, physiology: DatedPhysiology) -> PairLine:
    row = physiology.on(pair.part.workout.day)
    if row is None:
        return PairLine(pair, None, None)
    per_minute = load_per_minute(RATES, row.resting_rate, row.maximum_rate, row.load_weighting)
    reference, tested = (float(histogram_load(seconds, per_minute)) for seconds in pair.histograms)
    return PairLine(pair, reference, tested)
