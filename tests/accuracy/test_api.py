# mypy: disable-error-code="union-attr"

import numpy as np
import pytest
from django.test import Client

from accuracy.core.agreement.pair_agreement import agree
from accuracy.core.estimates.chance_days import chance_days
from accuracy.models import Advice, ErrorProfile, Fit, Pair, PlannedStrap, StrapGain, StrapPlan
from tests.builders import MORNING, activity_of, athlete, csv_file, imported, sensor, strap

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

DAY = MORNING.date().isoformat()


def fit(owner, inputs, *, shown):
    nothing = dict.fromkeys(("wrist", "session_rpe", "time_alone", "typical_histogram"), b"")
    made = Fit.objects.create(owner=owner, inputs_hash=inputs * 64, method_version=1, pair_count=5, **nothing)
    if shown:
        owner.current_source = made.source
        owner.save()
    return made


def profile(of, worn, activity="run", *, ratio=1.1):
    return ErrorProfile.objects.create(
        owner=of.owner,
        fit=of,
        sensor=worn,
        activity=activity_of(of.owner, activity),
        firmware="2.1",
        pair_count=5,
        ratio=ratio,
        ratio_low=ratio - 0.1,
        ratio_high=ratio + 0.1,
        within_ten=0.8,
        raw_within_ten=0.3,
        advice=Advice.STRAP_ADVISED,
        reason="Five pairs say so.",
    )


def pair(owner):
    """Pair of a strap at 140 bpm and a wrist that reads 10 bpm less, of one part."""
    reference = imported(owner, csv_file(bpm=140, device="strap 1"))
    tested = imported(owner, csv_file(bpm=130, device="wrist 1"))
    figures = agree(reference.trace().heart_rate, tested.trace().heart_rate)
    return Pair.objects.create(
        owner=owner,
        part=tested.workout.parts.get(),
        reference=reference,
        tested=tested,
        usable=True,
        remarks=["The first minute was cut."],
        shift=-2.0,
        shift_ambiguous=False,
        common_seconds=figures.common_seconds,
        agreement=figures.as_dict(),
        reference_histogram=np.zeros(256, "<f4").tobytes(),
        tested_histogram=np.zeros(256, "<f4").tobytes(),
    )


def test_a_profile_shows_its_ratio_its_range_and_the_advice_with_its_reason(signed_in, ana):
    profile(fit(ana, "a", shown=True), sensor(ana, "wrist"))
    (answer,) = signed_in.get("/api/profiles").json()
    assert (answer["sensor"], answer["activity"], answer["firmware"], answer["pairs"]) == (
        "wrist",
        "run",
        "2.1",
        5,
    )
    assert (answer["ratio_low"], answer["ratio"], answer["ratio_high"]) == pytest.approx((1.0, 1.1, 1.2))
    assert (answer["advice"], answer["reason"]) == ("strap_advised", "Five pairs say so.")


def test_a_profile_gives_its_remarks_and_what_it_takes_as_near(signed_in, ana):
    made = fit(ana, "a", shown=True)
    made.calibration = {"near_per_cent": 7}
    made.save()
    learned = profile(made, sensor(ana, "wrist"))
    learned.remarks = ["Since about 3 March 2026 its pairs disagree with those before."]
    learned.save()
    (answer,) = signed_in.get("/api/profiles").json()
    assert (answer["remarks"], answer["near_per_cent"]) == (learned.remarks, 7)


def test_only_the_profiles_of_the_fit_that_is_shown_are_listed(signed_in, ana):
    wrist = sensor(ana)
    profile(fit(ana, "a", shown=True), wrist, ratio=1.1)
    profile(fit(ana, "b", shown=False), wrist, ratio=1.5)
    assert [one["ratio"] for one in signed_in.get("/api/profiles").json()] == [1.1]


def test_before_the_first_fit_there_are_no_profiles(signed_in, ana):
    assert signed_in.get("/api/profiles").json() == []
    profile(fit(ana, "a", shown=False), sensor(ana))
    assert signed_in.get("/api/profiles").json() == []


def test_a_pair_shows_the_sensors_and_how_they_agree(signed_in, ana):
    strap(ana, "strap", source_key="csv:strap 1")
    sensor(ana, "wrist", source_key="csv:wrist 1")
    shown = pair(ana)
    (answer,) = signed_in.get("/api/pairs", {"from": DAY, "to": DAY}).json()
    assert (answer["part"], answer["workout"], answer["day"]) == (shown.part_id, shown.part.workout_id, DAY)
    assert (answer["reference"], answer["tested"], answer["activity"]) == ("strap", "wrist", "run")
    assert (answer["usable"], answer["remarks"]) == (True, ["The first minute was cut."])
    assert (answer["shift_seconds"], answer["common_seconds"]) == (-2, 600)
    assert answer["agreement"]["bias"] == -10
    assert answer["agreement"]["mean_absolute_error"] == 10


def test_a_figure_that_is_not_defined_is_null(signed_in, ana):
    pair(ana)
    (answer,) = signed_in.get("/api/pairs", {"from": DAY, "to": DAY}).json()
    assert answer["agreement"]["pearson_r"] is None


def test_pairs_of_other_days_are_not_listed(signed_in, ana):
    pair(ana)
    assert signed_in.get("/api/pairs", {"from": "2026-03-03", "to": "2026-03-09"}).json() == []


def test_listing_pairs_reads_no_trace(signed_in, ana, django_assert_max_num_queries):
    pair(ana)
    with django_assert_max_num_queries(4) as queries:
        signed_in.get("/api/pairs", {"from": DAY, "to": DAY})
    assert not any("trace_blob" in query["sql"] for query in queries.captured_queries)


def test_the_strap_plan_is_given_in_the_order_of_its_ranks_with_what_earlier_sessions_brought(signed_in, ana):
    worn, day = sensor(ana), MORNING.date()
    plan = StrapPlan.objects.create(
        owner=ana,
        fit=fit(ana, "a", shown=True),
        last_day=day,
        weeks=8,
        parts=9,
        measured_parts=2,
        half_width=0.09,
    )
    for rank, activity in ((2, "run"), (1, "lifting")):
        PlannedStrap.objects.create(
            owner=ana,
            plan=plan,
            sensor=worn,
            activity=activity_of(ana, activity),
            sessions_a_week=1.5,
            expected_half_width=0.06 + 0.01 * rank,
            worn_half_width=0.05,
            rank=rank,
        )
    StrapGain.objects.create(
        owner=ana,
        sensor=worn,
        activity=activity_of(ana, "run"),
        day=day,
        pairs=2,
        expected_from=0.12,
        expected_to=0.10,
        came_to=0.09,
    )
    answer = signed_in.get("/api/strap-plan").json()
    assert (answer["last_day"], answer["weeks"], answer["half_width"]) == (DAY, 8, 0.09)
    assert [(row["rank"], row["activity"], row["sensor"]) for row in answer["planned"]] == [
        (1, "lifting", "wrist"),
        (2, "run", "wrist"),
    ]
    assert answer["planned"][0]["expected_half_width"] == pytest.approx(0.07)
    assert answer["planned"][0]["worn_half_width"] == pytest.approx(0.05)
    assert answer["chance_days"] == [day.isoformat() for day in chance_days(ana.seed, ana.today())]
    assert answer["gains"] == [
        {
            "sensor": "wrist",
            "activity": "run",
            "day": DAY,
            "pairs": 2,
            "expected_from": 0.12,
            "expected_to": 0.10,
            "came_to": 0.09,
        }
    ]


def test_before_anything_is_learned_the_strap_plan_is_empty(signed_in):
    assert signed_in.get("/api/strap-plan").json() == {
        "last_day": None,
        "weeks": 0,
        "half_width": None,
        "planned": [],
        "chance_days": [],
        "gains": [],
    }


@pytest.mark.parametrize("address", ["/api/profiles", "/api/pairs", "/api/strap-plan"])
def test_nobody_is_told_to_sign_in(address):
    answer = Client().get(address)
    assert (answer.status_code, answer.json()["title"]) == (401, "Sign in first")


def test_what_others_learned_is_not_listed(signed_in):
    ben = athlete("ben")
    profile(fit(ben, "a", shown=True), sensor(ben))
    pair(ben)
    assert signed_in.get("/api/profiles").json() == []
    assert signed_in.get("/api/pairs", {"from": DAY, "to": DAY}).json() == []
