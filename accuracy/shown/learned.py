"""What the pages of this app show, fetched for one athlete."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from accuracy import words
from accuracy.models import ErrorProfile, Pair, Stretch
from accuracy.services import wording
from accuracy.services.calibration import near_per_cent
from accuracy.services.profiles import current_fit
from trainlog.load.trimp import RATES, histogram_load, load_per_minute
from trainlog.models import Activity, Athlete, Family, Part, Sensor
from trainlog.models.athlete import DatedPhysiology
from trainlog.web.words import DASH


@dataclass(frozen=True)
class Cell:
    """One sensor on one activity."""

    sensor: Sensor
    activity: Activity
    profile: ErrorProfile | None

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
    order = list(Family.values)
    return [
        ActivityRow(
            activity, [Cell(sensor, activity, profiles.get((sensor.pk, activity.pk))) for sensor in tested]
        )
        for activity in sorted(activities.values(), key=lambda row: (order.index(row.family), row.name))
    ]


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
