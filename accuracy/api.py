"""What was learned about the sensors, for programs; the log's API mounts this router by its name."""

from datetime import date, datetime
from typing import Annotated, Any, Self

from django.shortcuts import get_object_or_404
from ninja import Field, Query, Router, Schema
from ninja.pagination import paginate

from accuracy.comparison_api import router as comparison
from accuracy.core.estimates.chance_days import chance_days
from accuracy.models import ErrorProfile, Pair
from accuracy.services.calibration import near_per_cent
from accuracy.services.claimed_recovery import claims_of
from accuracy.services.exports import pair_figures
from accuracy.services.offers import maximum_offer
from accuracy.services.pair_report import pairs_of
from accuracy.services.profiles import current_fit
from accuracy.services.strap_plan import current_plan, earlier_gains, planned_straps
from trainlog.api.pages import LinkedPages
from trainlog.api.schemas import Days, Problem, SignedInRequest, Text, activity_named
from trainlog.models import Athlete

PROBLEMS = frozenset({401, 422})
NOT_FOUND = frozenset({401, 404, 422})

router = Router()
router.add_router("", comparison)


class ProfileAnswer(Schema):
    """How one tested sensor errs on one activity."""

    sensor: str
    activity: str = Field(description="Slug of the activity.")
    firmware: str = Field(description="Version that the profile holds for; empty if none is known.")
    pairs: int = Field(description="Usable pairs of this sensor on this activity.")
    ratio: float = Field(description="Median of reference over tested load; above 1 the sensor reads low.")
    ratio_low: float = Field(description="Lower bound of the 80% interval of a session like recent ones.")
    ratio_high: float = Field(description="Upper bound of the same.")
    within_ten_per_cent: float = Field(
        description="Probability that the corrected load of a session like the recent ones lies near the "
        "strap's: within `near_per_cent` of it, 10 unless the account says otherwise."
    )
    uncorrected_within_ten_per_cent: float = Field(description="The same for the load as it stands.")
    near_per_cent: int = Field(description="What the advice takes as near, in per cent of the strap's load.")
    advice: str = Field(description="wrist_will_do, strap_advised, strap_needed or too_few_pairs.")
    reason: str
    remarks: list[str] = Field(
        description="Sentences: whether the sensor's error changed, how strap sessions differ from others."
    )

    @classmethod
    def of(cls, profile: ErrorProfile, near: int) -> Self:
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
            near_per_cent=near,
            reason=profile.reason,
            remarks=profile.remarks,
        )


class PairAnswer(Schema):
    """The aligned reference and tested recordings of one part."""

    id: int
    part: int
    workout: int
    day: date
    start: datetime = Field(description="Of the part.")
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
            start=pair.part.start,
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


class PairFilter(Days):
    """Days wanted, and of which pairs."""

    activity: Text = Field("", description="Slug of one of the athlete's activities; all if left out.")
    usable: bool | None = Field(None, description="Whether it is learned from; both if left out.")

    def rest(self, athlete: Athlete) -> dict[str, Any]:
        """What is wanted beside days, as conditions on pairs."""
        conditions: dict[str, Any] = {}
        if self.activity:
            conditions["part__activity"] = activity_named(athlete, self.activity)
        if self.usable is not None:
            conditions["usable"] = self.usable
        return conditions


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
    recovery_hours: dict[str, dict[str, float]] | None = Field(
        description="By the reference, by the tested sensor as recorded, and their difference: low, median "
        "and high, 80%. Null where no load or physiology tells it."
    )
    reference_fault_shares: dict[str, float] = Field(description="Share of time under each flag, 0 to 1.")
    tested_fault_shares: dict[str, float]
    units: dict[str, dict[str, str]] = Field(description="Unit of every figure, by its name.")


class ClaimAnswer(Schema):
    """Recovery hours that a device claimed after a workout."""

    workout: int
    wrist: float | None = Field(description="From the wrist alone.")
    strap: float | None = Field(description="Fed by a strap.")
    ratio: float | None = Field(description="Strap-fed over wrist-only, where both were noted.")
    likely: list[float] | None = Field(
        description="Low, median and high (80%) of what a strap would have made of the wrist's hours."
    )


class ClaimsAnswer(Schema):
    """All claimed hours, newest first, and what those with both kinds teach."""

    pairs: int
    ratio: list[float] | None = Field(description="Low, median and high of a further session's ratio, 80%.")
    claims: list[ClaimAnswer]


class MaximumOfferAnswer(Schema):
    """A rate above the entered maximum that a strap held; it is in force only once it is entered."""

    value: int = Field(description="bpm, rounded down.")
    workout: int
    day: date
    sensor: str
    entered: float = Field(description="Maximum that loads go by at present, bpm.")
    confirmed: bool = Field(description="Whether another workout came within 3 bpm of it.")


class PlannedStrapAnswer(Schema):
    """What one more pair of a tested sensor and a strap in an activity is expected to bring."""

    rank: int = Field(description="From 1: the one that brings most.")
    sensor: str
    activity: str = Field(description="Slug of the activity.")
    sessions_a_week: float = Field(description="Worn without a strap.")
    expected_half_width: float = Field(
        description="Of a usual week's load after one more pair, on average; as a share of the load."
    )
    worn_half_width: float = Field(description="The same in a week in which one such session wears it.")


class StrapGainAnswer(Schema):
    """What a planned strap session brought; all half-widths are of the same sessions in the same weeks."""

    sensor: str
    activity: str = Field(description="Slug of the activity.")
    day: date
    pairs: int = Field(description="New pairs that were learned at once.")
    expected_from: float = Field(description="Half-width before, as a share of the load.")
    expected_to: float = Field(description="What was expected after one pair.")
    came_to: float = Field(description="What it was once the new pairs were learned.")


class StrapPlanAnswer(Schema):
    """Where one more strap session would narrow a usual week most, by the doubt of the sensors alone."""

    last_day: date | None = Field(description="Of the weeks looked at; null before any load is known.")
    weeks: int
    half_width: float | None = Field(
        description="Half-width of the 80% interval of a usual week's load, as a share of the load."
    )
    planned: list[PlannedStrapAnswer] = Field(description="The one that brings most first.")
    chance_days: list[date] = Field(description="Strap days of the coming seven that chance picked.")
    gains: list[StrapGainAnswer] = Field(description="The newest ones, newest first.")


@router.get("/profiles", response={200: list[ProfileAnswer], PROBLEMS: Problem})
def profiles(request: SignedInRequest) -> list[ProfileAnswer]:
    """List what the estimates now shown rest on: one profile per tested sensor and activity."""
    fit = current_fit(request.auth)
    if fit is None:
        return []
    found = ErrorProfile.objects.of(request.auth).filter(fit=fit).select_related("sensor", "activity")
    near = near_per_cent(fit)
    return [ProfileAnswer.of(profile, near) for profile in found.defer("agreement")]


@router.get("/pairs", response={200: list[PairAnswer], PROBLEMS: Problem})
@paginate(LinkedPages, place_of=lambda answer: (answer.start, answer.part, answer.id))
def pairs(request: SignedInRequest, wanted: Annotated[PairFilter, Query()]) -> list[PairAnswer]:
    """List the agreement of reference and tested sensor, part by part, oldest first."""
    found = (
        Pair.objects.of(request.auth)
        .filter(part__workout__day__range=wanted.of(request.auth), **wanted.rest(request.auth))
        .select_related("part__workout", "part__activity", "reference__sensor", "tested__sensor")
        .defer("reference__trace_blob", "tested__trace_blob", "reference_trace", "tested_trace")
        .order_by("part__start", "reference__sha256", "tested__sha256")
    )
    return [PairAnswer.of(pair) for pair in found]


@router.get("/pairs/{id}", response={200: PairDetail, NOT_FOUND: Problem})
def pair(request: SignedInRequest, id: int) -> dict[str, Any]:
    """Give all figures of one pair."""
    return pair_figures(get_object_or_404(pairs_of(request.auth), pk=id))


@router.get("/recovery/claimed", response={200: ClaimsAnswer, PROBLEMS: Problem})
def claimed_recoveries(request: SignedInRequest) -> ClaimsAnswer:
    """Show the recovery hours that devices claimed, and what those from the wrist alone are worth."""
    found = claims_of(request.auth)
    return ClaimsAnswer(
        pairs=found.pairs,
        ratio=list(found.ratio) if found.ratio else None,
        claims=[
            ClaimAnswer(
                workout=one.workout.pk,
                wrist=one.wrist,
                strap=one.strap,
                ratio=one.ratio,
                likely=list(one.likely) if one.likely else None,
            )
            for one in found.rows
        ],
    )


@router.get("/offers/maximum-rate", response={200: MaximumOfferAnswer | None, PROBLEMS: Problem})
def offered_maximum_rate(request: SignedInRequest) -> MaximumOfferAnswer | None:
    """Show the maximum that is offered; null where there is none, or it was declined."""
    offer = maximum_offer(request.auth)
    if offer is None:
        return None
    return MaximumOfferAnswer(
        value=offer.value,
        workout=offer.part.workout_id,
        day=offer.part.workout.day,
        sensor=offer.sensor.name,
        entered=offer.entered,
        confirmed=offer.confirmed,
    )


@router.get("/strap-plan", response={200: StrapPlanAnswer, PROBLEMS: Problem})
def strap_plan(request: SignedInRequest) -> StrapPlanAnswer:
    """Rank the sessions to wear a strap for next, and give what earlier ones brought."""
    athlete = request.auth
    plan = current_plan(athlete)
    rows = planned_straps(plan) if plan else []
    return StrapPlanAnswer(
        last_day=plan.last_day if plan else None,
        weeks=plan.weeks if plan else 0,
        half_width=plan.half_width if plan else None,
        planned=[
            PlannedStrapAnswer(
                rank=row.rank,
                sensor=row.sensor.name,
                activity=row.activity.slug,
                sessions_a_week=row.sessions_a_week,
                expected_half_width=row.expected_half_width,
                worn_half_width=row.worn_half_width,
            )
            for row in rows
        ],
        chance_days=chance_days(athlete.seed, athlete.today()) if rows else [],
        gains=[
            StrapGainAnswer(
                sensor=gain.sensor.name,
                activity=gain.activity.slug,
                day=gain.day,
                pairs=gain.pairs,
                expected_from=gain.expected_from,
                expected_to=gain.expected_to,
                came_to=gain.came_to,
            )
            for gain in earlier_gains(athlete)
        ],
    )
