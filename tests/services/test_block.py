from datetime import timedelta

import numpy as np
import pytest

from tests.builders import MORNING, athlete, estimate, intensity, part
from trainlog.load.draws import standard_normals
from trainlog.models import Basis, UnknownDay
from trainlog.services.block import LONGEST_BY_PART, block_of
from trainlog.services.trend_store import keep_trend
from trainlog.services.week import week_of

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()


def day(offset):
    return MONDAY + timedelta(days=offset)


def trained(owner, offset, load=100.0, **fields):
    rating = fields.pop("session_rpe", None)
    activity = fields.pop("activity", "run")
    made = part(owner, MORNING + timedelta(days=offset), session_rpe=rating, activity=activity)
    return estimate(made, load, **fields)


def test_a_block_of_one_week_says_what_the_week_says():
    ana = athlete()
    trained(ana, 0, 100 + 20 * standard_normals("loose"), session_rpe=5)
    trained(ana, 2, 50.0, basis=Basis.MEASURED, activity="lifting")
    trained(ana, -7, 80.0)
    trained(ana, -6, 10.0)
    trained(ana, -14, 1.0)
    week, block = week_of(ana, MONDAY), block_of(ana, MONDAY, day(6))
    for name in (
        "confidence",
        "shares",
        "shares_by_confidence",
        "families",
        "hours",
        "session_rpe_load",
        "rated_parts",
        "parts",
        "main_doubt",
        "pending",
        "bands",
        "measure",
    ):
        assert getattr(block, name) == getattr(week, name)
    assert np.array_equal(block.total.draws, week.total.draws)
    assert block.against_before == week.against_last


def test_a_block_is_compared_with_the_equally_long_one_before_it():
    ana = athlete()
    for offset, load in ((-10, 40.0), (-3, 50.0), (0, 60.0), (9, 90.0)):
        trained(ana, offset, load)
    block = block_of(ana, day(0), day(9))
    assert block.before == (day(-10), day(-1))
    assert block.against_before.low == pytest.approx(100 * (150 / 90 - 1))


def test_a_block_that_is_not_over_is_compared_with_as_many_days():
    ana = athlete()
    today = ana.today()
    block = block_of(ana, today - timedelta(days=3), today + timedelta(days=6))
    assert (block.until, block.days) == (today, 4)
    assert block.before == (today - timedelta(days=13), today - timedelta(days=10))


def test_a_block_is_not_compared_with_one_from_before_the_log():
    ana = athlete()
    trained(ana, -3)
    trained(ana, 0)
    assert block_of(ana, day(0), day(6)).against_before is None
    assert block_of(ana, day(0), day(2)).against_before is not None


def test_an_empty_block_has_no_total():
    block = block_of(athlete(), day(0), day(40))
    assert (block.total, block.confidence, block.parts, block.pending) == (None, "", 0, 0)
    assert (block.shares, block.shares_by_confidence, block.families) == ([], [], [])
    assert (block.session_rpe_load, block.bands, block.main_doubt) == (None, None, None)


def test_shares_by_confidence_are_of_the_sum_of_medians():
    ana = athlete()
    trained(ana, 0, 75.0)
    trained(ana, 1, 25 * np.exp(0.5 * standard_normals("wide")))
    shares = block_of(ana, day(0), day(1)).shares_by_confidence
    assert [(share.confidence, round(share.per_cent)) for share in shares] == [("firm", 75), ("unknown", 25)]


def test_a_long_block_is_the_sum_of_its_kept_weeks_and_the_days_around_them():
    ana = athlete()
    ana.current_source = "fit"
    ana.save()
    last = LONGEST_BY_PART + 30
    for offset in range(2, last, 5):
        rating = 4 if offset % 2 else None
        trained(ana, offset, 50 * np.exp(0.2 * standard_normals(f"{offset}")), session_rpe=rating)
    part_by_part = block_of(ana, day(3), day(last - 3))
    keep_trend(ana, "fit")
    from_weeks = block_of(ana, day(3), day(last - 3))
    assert from_weeks.total.draws == pytest.approx(part_by_part.total.draws, rel=1e-6)
    assert from_weeks.families == part_by_part.families
    assert from_weeks.session_rpe_load == part_by_part.session_rpe_load
    for kept, summed in zip(from_weeks.shares, part_by_part.shares, strict=True):
        assert kept.per_cent == pytest.approx(summed.per_cent)


def test_parts_still_to_be_estimated_are_counted():
    ana = athlete()
    part(ana)
    changed = trained(ana, 1).part
    changed.input_revision += 1
    changed.save()
    trained(ana, 2)
    assert block_of(ana, day(0), day(6)).pending == 2


def test_two_measures_are_never_in_one_sum():
    ana = athlete()
    both = trained(ana, 0, 80.0).part
    estimate(both, 300.0, measure="session_rpe")
    trained(ana, 1, 90.0)
    assert block_of(ana, day(0), day(6)).total.median == 170
    ana.measure = "session_rpe"
    block = block_of(ana, day(0), day(6))
    assert (block.measure, block.total.median, block.pending) == ("session_rpe", 300, 1)


def test_a_load_in_another_measure_never_stands_in_for_the_chosen_one():
    ana = athlete()
    trained(ana, 0, 80.0)
    ana.measure = "zones"
    block = block_of(ana, day(0), day(6))
    assert (block.measure, block.total, block.pending) == ("zones", None, 1)


def in_bands(of, *minutes, source=""):
    intensity(of.part, bands=minutes, source=source)


def test_minutes_in_bands_add_up_over_the_parts_that_have_them():
    ana = athlete()
    in_bands(trained(ana, 0), 10, 20, 20, 10, 0)
    in_bands(trained(ana, 3), 0, 10, 40, 8, 2)
    trained(ana, 4)
    in_bands(trained(ana, 9), 60, 0, 0, 0, 0)
    block = block_of(ana, day(0), day(6))
    assert [band.median for band in block.bands.bands] == [10, 30, 60, 18, 2]
    assert (block.bands.parts, block.bands.without) == (2, 1)
    assert week_of(ana, MONDAY).bands == block.bands


def test_minutes_in_bands_of_another_source_are_not_counted():
    ana = athlete()
    in_bands(trained(ana, 0), 10, 20, 20, 10, 0, source="an older one")
    assert block_of(ana, day(0), day(6)).bands is None


def test_a_block_counts_nothing_of_others():
    trained(athlete("bo"), 0)
    assert block_of(athlete("ana"), day(0), day(6)).parts == 0


@pytest.mark.parametrize("days", [28, LONGEST_BY_PART, 400])
def test_the_number_of_queries_does_not_grow_with_the_history(days, django_assert_max_num_queries):
    ana = athlete()
    ana.current_source = "fit"
    ana.save()
    for offset in range(-days, days, 3):
        trained(ana, offset)
    keep_trend(ana, "fit")
    with django_assert_max_num_queries(12):
        block_of(ana, day(0), day(days))


@pytest.mark.parametrize("offset", [2, 9])
def test_with_a_day_that_is_not_known_in_either_span_nothing_is_compared(offset):
    ana = athlete()
    trained(ana, 0, 80.0)
    trained(ana, 8, 90.0)
    assert block_of(ana, day(7), day(13)).against_before is not None
    UnknownDay.objects.create(owner=ana, day=day(offset))
    found = block_of(ana, day(7), day(13))
    assert (found.against_before, found.partly_known) == (None, True)
