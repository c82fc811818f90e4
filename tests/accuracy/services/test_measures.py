"""Every part has a load in every measure, and its time by intensity, of the same draws."""

from datetime import timedelta

import numpy as np
import pytest

from accuracy.services.learn import learn
from tests import builders
from tests.accuracy.session_builders import FIRST_DAY, estimate_of, session
from trainlog.models import Activity, Basis, IntensityEstimate, LoadEstimate, Measure, Part, Physiology
from trainlog.services.athletes import set_physiology
from trainlog.services.edit_workout import add_typed_workout, set_session_rpe

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana():
    return builders.equipped_athlete("ana", strap="Strap", wrist="Wrist")


def intensity_of(athlete, day):
    athlete.refresh_from_db()
    on_day = (FIRST_DAY + timedelta(days=day)).date()
    return IntensityEstimate.objects.get(part__workout__day=on_day, source=athlete.current_source)


def test_a_measured_part_has_the_zones_of_its_strap(ana):
    session(ana, 0, strap=140)
    learn(ana)
    # 140 of 190 bpm is 74% of the maximum: the third zone. Without a test, 82% is the first threshold.
    assert estimate_of(ana, 0, Measure.ZONES).raw == pytest.approx(3 * 40, rel=0.02)
    assert estimate_of(ana, 0, Measure.THREE_ZONES).raw == pytest.approx(40, rel=0.02)
    assert estimate_of(ana, 0, Measure.ZONES).basis == Basis.MEASURED


def test_thresholds_of_a_test_take_the_place_of_the_stand_ins(ana):
    session(ana, 0, strap=140)
    learn(ana)
    assert "stand in" in estimate_of(ana, 0, Measure.THREE_ZONES).reason
    row = Physiology.objects.of(ana).get()
    row.first_threshold, row.second_threshold = 130, 160
    set_physiology(ana, row)
    learn(ana)
    estimate = estimate_of(ana, 0, Measure.THREE_ZONES)
    assert estimate.raw == pytest.approx(2 * 40, rel=0.1)
    assert "stand in" not in estimate.reason


def test_a_corrected_part_spends_its_time_at_rates_that_its_load_agrees_with(ana):
    for day, rate in enumerate((140, 150, 145, 143)):
        session(ana, day, strap=rate, wrist=rate - 20)
    session(ana, 9, wrist=125)
    session(ana, 10, strap=145)
    learn(ana)
    alone, measured = intensity_of(ana, 9), intensity_of(ana, 10)
    raw = estimate_of(ana, 9, Measure.ZONES).raw
    assert estimate_of(ana, 9, Measure.ZONES).median > 1.15 * raw
    assert np.median(alone.minutes_in_bands, axis=0) == pytest.approx(
        np.median(measured.minutes_in_bands, axis=0), abs=6
    )


def test_time_by_intensity_fills_the_part_in_every_draw(ana):
    session(ana, 0, wrist=130)
    learn(ana)
    found = intensity_of(ana, 0)
    assert found.minutes_in_bands.sum(axis=1) == pytest.approx(np.full(512, 40), abs=0.2)
    assert found.minutes_in_domains.sum(axis=1) == pytest.approx(np.full(512, 40), abs=0.2)


def test_a_rated_part_has_its_rating_times_minutes_and_no_doubt(ana):
    session(ana, 0, strap=140)
    set_session_rpe(Part.objects.of(ana).get(), 6)
    learn(ana)
    estimate = estimate_of(ana, 0, Measure.SESSION_RPE)
    assert (estimate.low, estimate.median, estimate.high) == (240, 240, 240)
    assert estimate.basis == Basis.REPORTED
    assert estimate.confidence == "firm"


def test_a_part_rated_as_rest_is_known_to_be_no_load(ana):
    session(ana, 0, strap=140)
    set_session_rpe(Part.objects.of(ana).get(), 0)
    learn(ana)
    estimate = estimate_of(ana, 0, Measure.SESSION_RPE)
    assert (estimate.median, estimate.confidence) == (0, "firm")


def test_an_unrated_part_is_drawn_from_the_rated_ones(ana):
    for day in range(6):
        session(ana, day, strap=140)
    rated = Part.objects.of(ana).order_by("start")[:5]
    for part in rated:
        set_session_rpe(part, 5)
    learn(ana)
    estimate = estimate_of(ana, 5, Measure.SESSION_RPE)
    assert estimate.basis == Basis.MISSING
    assert "5 sessions" in estimate.reason
    assert estimate.low < 200 < estimate.high
    assert estimate.low < estimate.high


def test_a_typed_session_has_every_measure_too(ana):
    session(ana, 0, strap=140)
    run = Activity.objects.of(ana).get(slug="run")
    add_typed_workout(ana, FIRST_DAY + timedelta(days=1), 50, run, 4)
    learn(ana)
    found = {measure: estimate_of(ana, 1, measure) for measure in Measure.values}
    assert found[Measure.SESSION_RPE].median == 200
    assert all(estimate.low > 0 for estimate in found.values())
    assert found[Measure.ZONES].basis == Basis.REPORTED


def test_zones_of_a_later_fit_take_the_place_of_the_earlier_ones(ana):
    session(ana, 0, wrist=130)
    learn(ana)
    session(ana, 1, wrist=130, strap=145)
    learn(ana)
    ana.refresh_from_db()
    assert set(IntensityEstimate.objects.values_list("source", flat=True)) == {ana.current_source}
    assert LoadEstimate.objects.count() == 2 * len(Measure)
