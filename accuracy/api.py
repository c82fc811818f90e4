"""What was learned about the sensors, for programs; the log's API mounts this router by its name."""

from datetime import date
from typing import Annotated, Any, Self

from django.shortcuts import get_object_or_404
from ninja import Field, Query, Router, Schema

from accuracy.models import ErrorProfile, Pair
from accuracy.services.exports import pair_figures
from accuracy.services.pair_report import pairs_of
from accuracy.services.profiles import current_fit
from trainlog.api_schemas import Days, Problem, SignedInRequest

PROBLEMS = frozenset({401, 422})
NOT_FOUND = frozenset({401, 404, 422})

router = Router()


class ProfileAnswer(Schema):
    """How one tested sensor errs on one activity."""

    sensor: str
    activity: str = Field(description="Slug of the activity.")
    firmware: str = Field(description="Version that the profile holds for; empty if none is known.")
    pairs: int = Field(description="Usable pairs of this sensor on this activity.")
    ratio: float = Field(description="Median of reference over tested load; above 1 the sensor reads low.")
    ratio_low: float = Field(description="Lower bound of the 80% interval for one further session.")
    ratio_high: float = Field(description="Upper bound of the same.")
    within_ten_per_cent: float = Field(
        description="Probability that a corrected load is within 10% of the truth."
    )
    uncorrected_within_ten_per_cent: float = Field(description="The same for the load as it stands.")
    advice: str = Field(description="wrist_will_do, strap_advised, strap_needed or too_few_pairs.")
    reason: str

    @classmethod
    def of(cls, profile: ErrorProfile) -> Self:
        """Figures of a profile."""
        return cls(
            sensor=profile.sensor.name,
            activity=profile.activity.slug,
            firmware=profile.firmware,
            pairs=profile.pair_count,
            ratio=profile.ratio,
            ratio_low=profile.ratio_low,
            ratio_high=profile.ratio_high,
            within_ten_per_cent=profile.within_ten,
            uncorrected_within_ten_per_cent=profile.raw_within_ten,
            advice=profile.advice,
            reason=profile.reason,
        )


class PairAnswer(Schema):
    """The aligned reference and tested recordings of one part."""

    id: int
    part: int
    workout: int
    day: date
    activity: str
    reference: str | None = Field(description="Name of the reference sensor.")
    tested: str | None = Field(description="Name of the tested sensor.")
    usable: bool
    remarks: list[str] = Field(description="What was cut, or why the pair was set aside.")
    shift_seconds: float = Field(description="By which the tested trace was moved.")
    shift_ambiguous: bool
    common_seconds: int
    agreement: dict[str, float | None] = Field(
        description="Over the common seconds: bias, limits and errors in bpm (tested minus reference), "
        "mean absolute percentage error in per cent, shares 0 to 1, lock-on in seconds; null where undefined."
    )

    @classmethod
    def of(cls, pair: Pair) -> Self:
        """Figures of a pair."""
        return cls(
            id=pair.pk,
            part=pair.part_id,
            workout=pair.part.workout_id,
            day=pair.part.workout.day,
            activity=pair.part.activity.slug,
            reference=pair.reference.sensor.name if pair.reference.sensor else None,
            tested=pair.tested.sensor.name if pair.tested.sensor else None,
            usable=pair.usable,
            remarks=pair.remarks,
            shift_seconds=pair.shift,
            shift_ambiguous=pair.shift_ambiguous,
            common_seconds=pair.common_seconds,
            agreement=pair.agreement,
        )


class PairDetail(Schema):
    """All figures of one pair, by length of an epoch, with units."""

    protocol: dict[str, Any] = Field(description="Sensors, clocks, alignment, and the physiology in force.")
    lag_seconds: float | None = Field(description="Null where the clocks may differ: it cannot be told.")
    by_epoch_seconds: dict[str, dict[str, float | None]] = Field(
        description="Agreement figures at epochs of 1, 5, 30 and 60 s; tested minus reference."
    )
    by_intensity: list[dict[str, Any]] = Field(description="By band of the reference's heart-rate reserve.")
    by_direction: list[dict[str, Any]] = Field(description="While the reference rises, stays and falls.")
    load_difference_percent: float | None
    reference_fault_shares: dict[str, float] = Field(description="Share of time under each flag, 0 to 1.")
    tested_fault_shares: dict[str, float]
    units: dict[str, dict[str, str]] = Field(description="Unit of every figure, by its name.")


@router.get("/profiles", response={200: list[ProfileAnswer], PROBLEMS: Problem})
def profiles(request: SignedInRequest) -> list[ProfileAnswer]:
    """List what the estimates now shown rest on: one profile per tested sensor and activity."""
    fit = current_fit(request.auth)
    if fit is None:
        return []
    found = ErrorProfile.objects.of(request.auth).filter(fit=fit).select_related("sensor", "activity")
    return [ProfileAnswer.of(profile) for profile in found.defer("agreement")]


@router.get("/pairs", response={200: list[PairAnswer], PROBLEMS: Problem})
def pairs(request: SignedInRequest, days: Annotated[Days, Query()]) -> list[PairAnswer]:
    """List the agreement of reference and tested sensor, part by part, oldest first."""
    found = (
        Pair.objects.of(request.auth)
        .filter(part__workout__day__range=days.of(request.auth))
        .select_related("part__workout", "part__activity", "reference__sensor", "tested__sensor")
        .defer("reference__trace_blob", "tested__trace_blob", "reference_trace", "tested_trace")
        .order_by("part__start", "reference__sha256", "tested__sha256")
    )
    return [PairAnswer.of(pair) for pair in found]


@router.get("/pairs/{id}", response={200: PairDetail, NOT_FOUND: Problem})
def pair(request: SignedInRequest, id: int) -> dict[str, Any]:
    """Give all figures of one pair."""
    return pair_figures(get_object_or_404(pairs_of(request.auth), pk=id))
