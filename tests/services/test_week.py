# mypy: disable-error-code="union-attr"

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from tests.builders import MORNING, athlete, estimate, part
from trainlog.load.draws import DRAWS, standard_normals
from trainlog.models import Basis, Part
from trainlog.services.lines import lines_between, monday_of
from trainlog.services.week import week_of

pytestmark = pytest.mark.django_db

MONDAY = date(2026, 3, 2)


def day(offset, hours=0.0):
    return MORNING + timedelta(days=offset, hours=hours)


def test_a_week_begins_on_monday():
    assert {monday_of(MONDAY + timedelta(days=i)) for i in range(7)} == {MONDAY}
    assert monday_of(MONDAY - timedelta(days=1)) == MONDAY - timedelta(days=7)


def test_any_day_of_a_week_gives_the_same_week():
    owner = athlete()
    estimate(part(owner, day(6)), 40)
    assert [week_of(owner, MONDAY + timedelta(days=i)).total.median for i in range(7)] == [40] * 7


def test_a_week_is_the_sum_of_its_days():
    owner = athlete()
    for offset, load in ((0, 30), (2, 50), (2, 20), (6, 100)):
        estimate(part(owner, day(offset, hours=load / 10)), load)
    week = week_of(owner, MONDAY)
    assert week.total.median == 200
    assert [one.total.median if one.total else None for one in week.days] == [
        30,
        None,
        70,
        None,
        None,
        None,
        100,
    ]
    assert week.sunday == date(2026, 3, 8)


def test_an_empty_week_has_seven_days_and_no_total():
    week = week_of(athlete(), MONDAY)
    assert len(week.days) == 7
    assert (week.total, week.confidence, week.against_last, week.shares) == (None, "", None, [])
    assert (week.hours, week.parts, week.session_rpe_load) == (0, 0, None)


def test_estimates_of_an_earlier_or_later_fit_are_not_mixed_in():
    owner = athlete()
    owner.current_source = "fit 2"
    owner.save()
    trained = part(owner)
    estimate(trained, 30, source="fit 1")
    estimate(trained, 40, source="fit 2")
    estimate(trained, 50, source="fit 3")
    assert week_of(owner, MONDAY).total.median == 40


def test_what_another_athlete_did_is_not_counted():
    estimate(part(athlete("ben")), 100)
    assert week_of(athlete("ana"), MONDAY).total is None


def test_a_part_without_estimate_is_pending_and_shown_without_load():
    owner = athlete()
    part(owner)
    week = week_of(owner, MONDAY)
    assert (week.parts, week.pending, week.total) == (1, 1, None)


def test_a_part_that_has_changed_since_is_pending_and_shown_with_its_old_load():
    owner = athlete()
    changed = part(owner)
    estimate(changed, 60)
    assert week_of(owner, MONDAY).pending == 0
    Part.objects.filter(pk=changed.pk).update(input_revision=2)
    week = week_of(owner, MONDAY)
    assert (week.pending, week.total.median) == (1, 60)


def test_a_harder_week_is_likely_higher_than_the_last():
    owner = athlete()
    estimate(part(owner, day(-7)), 100 * np.exp(0.1 * standard_normals("last")))
    estimate(part(owner, day(0)), 130 * np.exp(0.1 * standard_normals("this")))
    change = week_of(owner, MONDAY).against_last
    # log(1.3) over the deviation of the difference, 0.1 * sqrt(2): 1.86, of which 97% lies below.
    assert change.per_cent_likely == 95
    assert change.low < 30 < change.high


def test_a_week_like_the_last_is_as_likely_higher_as_lower():
    owner = athlete()
    estimate(part(owner, day(-3)), 100 * np.exp(0.1 * standard_normals("last")))
    estimate(part(owner, day(3)), 100 * np.exp(0.1 * standard_normals("this")))
    assert week_of(owner, MONDAY).against_last.per_cent_likely == 50


def test_only_the_week_before_is_compared_with():
    owner = athlete()
    estimate(part(owner, day(-8)), 1000)
    estimate(part(owner, day(0)), 100)
    assert week_of(owner, MONDAY).against_last is None
    assert week_of(owner, MONDAY - timedelta(days=7)).against_last.per_cent_likely == 5


def test_a_week_that_is_not_over_is_compared_with_as_many_days_of_the_last():
    owner = athlete()
    for offset, load in ((0, 50.0), (-7, 30.0), (-3, 500.0)):
        estimate(part(owner, day(offset)), load)
    assert week_of(owner, MONDAY, today=MONDAY).against_last.per_cent_likely == 95
    assert week_of(owner, MONDAY, today=MONDAY + timedelta(days=7)).against_last.per_cent_likely == 5


def usual_of(owner, monday=MONDAY, today=None):
    return week_of(owner, monday, today).against_usual


def test_a_week_is_compared_with_the_mean_of_the_four_before():
    owner = athlete()
    for offset, load in ((-35, 9000.0), (-28, 100.0), (-21, 120.0), (-14, 80.0), (-7, 100.0), (0, 150.0)):
        estimate(part(owner, day(offset)), load)
    usual = usual_of(owner)
    assert (usual.weeks, usual.comparison.per_cent_likely) == (4, 95)
    assert usual.comparison.low == pytest.approx(50)


def test_weeks_before_the_log_began_do_not_count_as_rest():
    owner = athlete()
    for offset, load in ((-14, 100.0), (-7, 100.0), (0, 150.0)):
        estimate(part(owner, day(offset)), load)
    assert (usual_of(owner).weeks, usual_of(owner).comparison.high) == (2, pytest.approx(50))


def test_a_week_of_rest_inside_the_log_counts_as_no_load():
    owner = athlete()
    for offset, load in ((-21, 150.0), (-7, 150.0), (0, 100.0)):
        estimate(part(owner, day(offset)), load)
    assert (usual_of(owner).weeks, usual_of(owner).comparison.high) == (3, pytest.approx(0))


def test_nothing_is_usual_after_a_single_week():
    owner = athlete()
    for offset in (-7, 0):
        estimate(part(owner, day(offset)), 100)
    assert usual_of(owner) is None


def test_a_week_whose_workouts_have_no_load_yet_is_left_out_of_the_usual_one():
    owner = athlete()
    for offset in (-28, -14, -7, 0):
        estimate(part(owner, day(offset)), 100)
    part(owner, day(-21))
    assert (usual_of(owner).weeks, usual_of(owner).comparison.high) == (3, pytest.approx(0))


def test_a_week_that_is_not_over_is_compared_with_as_many_days_of_the_usual_one():
    owner = athlete()
    for offset in (-28, -21, -14, -7, 0):
        estimate(part(owner, day(offset)), 100)
        estimate(part(owner, day(offset + 5)), 900)
    assert usual_of(owner, today=MONDAY + timedelta(days=2)).comparison.high == pytest.approx(900)
    Part.objects.filter(workout__day__gt=MONDAY).delete()
    assert usual_of(owner, today=MONDAY + timedelta(days=2)).comparison.high == pytest.approx(0)


def test_a_week_that_has_not_begun_is_not_compared_with_the_usual_one():
    owner = athlete()
    for offset in (-21, -14, -7):
        estimate(part(owner, day(offset)), 100)
    assert usual_of(owner, today=MONDAY - timedelta(days=1)) is None


def test_what_another_athlete_did_is_not_usual():
    owner, other = athlete("ana"), athlete("ben")
    for offset in (-21, -14, -7):
        estimate(part(other, day(offset)), 500)
    estimate(part(owner, day(0)), 100)
    assert usual_of(owner) is None


def test_the_part_that_makes_most_of_the_doubt_is_named_with_what_a_strap_would_leave():
    owner = athlete()
    loose = part(owner, day(1), activity="mixed-intervals")
    estimate(loose, 100 + 20 * standard_normals("loose"))
    estimate(part(owner, day(2)), 100 + 8 * standard_normals("fair"))
    doubt = week_of(owner, MONDAY).main_doubt
    assert [one.part for one in doubt.parts] == [loose]
    assert doubt.per_cent == pytest.approx(86, abs=6)
    assert doubt.half_width == pytest.approx(1.2816 * 21.5 / 200, rel=0.1)
    assert doubt.half_width_if_measured == pytest.approx(1.2816 * 8 / 200, rel=0.1)


def test_a_measured_part_is_never_said_to_make_the_doubt():
    owner = athlete()
    estimate(part(owner, day(1)), 100 + 20 * standard_normals("gaps"), basis=Basis.MEASURED)
    estimate(part(owner, day(2)), 100.0)
    assert week_of(owner, MONDAY).main_doubt is None


def test_a_week_that_is_known_well_has_no_doubt_to_explain():
    owner = athlete()
    estimate(part(owner, day(1)), 100 + 2 * standard_normals("narrow"))
    assert week_of(owner, MONDAY).main_doubt is None


def test_a_week_of_parts_alike_in_doubt_names_none():
    owner = athlete()
    for offset in range(5):
        estimate(part(owner, day(offset)), 100 + 20 * standard_normals("shared"))
    assert week_of(owner, MONDAY).main_doubt is None


def test_a_strap_that_would_leave_the_shown_margin_as_it_is_is_not_asked_for():
    owner = athlete()
    estimate(part(owner, day(0)), 1000 + 40 * standard_normals("shared"), basis=Basis.MEASURED)
    estimate(part(owner, day(1)), 1000 - 120 * standard_normals("shared"))
    assert week_of(owner, MONDAY).main_doubt is not None
    Part.objects.all().delete()
    estimate(part(owner, day(0)), 1000 + 50 * standard_normals("shared"), basis=Basis.MEASURED)
    estimate(part(owner, day(1)), 1000 - 100 * standard_normals("shared"))
    assert week_of(owner, MONDAY).main_doubt is None


def test_parts_are_counted_by_family():
    owner = athlete()
    for offset, activity, minutes in ((0, "run", 60), (2, "lifting", 45), (4, "ride", 90)):
        part(owner, day(offset), minutes, activity=activity)
    families = week_of(owner, MONDAY).families
    assert [(one.family, one.parts, one.seconds) for one in families] == [
        ("steady", 2, 9000),
        ("resistance", 1, 2700),
    ]


def test_the_interval_of_a_week_is_that_of_the_sum_and_not_the_sum_of_intervals():
    owner = athlete()
    for i in range(4):
        estimate(part(owner, day(i)), 100 + 20 * standard_normals(str(i)))
    week = week_of(owner, MONDAY)
    # One session: ±1.2816 * 20; four independent ones: twice that, where intervals would add to four times.
    assert (week.total.high - week.total.low) / 2 == pytest.approx(2 * 1.2816 * 20, rel=0.12)


def test_shares_follow_the_medians_in_the_order_of_trust():
    owner = athlete()
    estimate(part(owner, day(0)), 25, basis=Basis.REPORTED)
    estimate(part(owner, day(1)), 50, basis=Basis.MEASURED)
    estimate(part(owner, day(2)), 25, basis=Basis.REPORTED)
    shares = week_of(owner, MONDAY).shares
    assert [(share.basis, share.per_cent) for share in shares] == [("measured", 50), ("reported", 50)]


def test_a_week_whose_loads_are_all_nothing_has_no_shares():
    owner = athlete()
    estimate(part(owner), 0)
    week = week_of(owner, MONDAY)
    assert (week.shares, week.confidence) == ([], "unknown")


def test_hours_and_session_rpe_are_summed_over_what_there_is():
    owner = athlete()
    part(owner, day(0), 60, session_rpe=5)
    part(owner, day(1), 30)
    part(owner, day(2), 30, session_rpe=0)
    week = week_of(owner, MONDAY)
    assert (week.hours, week.session_rpe_load, week.rated_parts, week.parts) == (2, 300, 2, 3)


def test_a_day_is_the_athletes_own_and_not_that_of_utc():
    late_on_sunday = datetime(2026, 3, 8, 23, 30, tzinfo=UTC)
    for name, zone, monday in (("a", "UTC", MONDAY), ("b", "Europe/Helsinki", MONDAY + timedelta(days=7))):
        owner = athlete(name, time_zone=zone)
        estimate(part(owner, late_on_sunday, 20), 10)
        assert week_of(owner, monday).parts == 1


@pytest.mark.parametrize(
    ("start", "local_day"),
    [
        # Clocks in Lisbon go from 00:59 to 02:00 local on 29 March 2026, and from 01:59 back to 01:00
        # on 25 October 2026.
        (datetime(2026, 3, 28, 23, 59, tzinfo=UTC), date(2026, 3, 28)),
        (datetime(2026, 3, 29, 22, 59, tzinfo=UTC), date(2026, 3, 29)),
        (datetime(2026, 3, 29, 23, 0, tzinfo=UTC), date(2026, 3, 30)),
        (datetime(2026, 10, 24, 22, 59, tzinfo=UTC), date(2026, 10, 24)),
        (datetime(2026, 10, 24, 23, 0, tzinfo=UTC), date(2026, 10, 25)),
        (datetime(2026, 10, 25, 23, 59, tzinfo=UTC), date(2026, 10, 25)),
    ],
)
def test_days_with_a_change_of_clock_hold_their_own_workouts(start, local_day):
    owner = athlete(time_zone="Europe/Lisbon")
    estimate(part(owner, start, 10), 10)
    week = week_of(owner, local_day)
    assert [one.date for one in week.days if one.lines] == [local_day]


def test_lines_come_oldest_first_and_both_ends_count():
    owner = athlete()
    for offset in (3, 0, 1, 2):
        estimate(part(owner, day(offset)), offset + 1)
    lines = lines_between(owner, MONDAY, MONDAY + timedelta(days=2))
    assert [line.estimate.median for line in lines] == [1, 2, 3]


def test_a_week_holds_every_draw():
    owner = athlete()
    estimate(part(owner), 40)
    assert week_of(owner, MONDAY).total.draws.shape == (DRAWS,)
