# mypy: disable-error-code="union-attr"

from datetime import UTC, date, datetime

import numpy as np
import pytest

from tests.builders import athlete, estimate, part
from trainlog.load.draws import standard_normals
from trainlog.models import Basis
from trainlog.services.years import a_year_before, years_of

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 10)


def trained(owner, year, month, day, load=None, minutes=60, activity="run", **fields):
    made = part(owner, datetime(year, month, day, 8, tzinfo=UTC), minutes, activity=activity)
    if load is not None:
        estimate(made, load, **fields)
    return made


def test_an_empty_log_has_no_year(ana):
    found = years_of(ana, TODAY)
    assert (found.years, found.months, found.against_last) == ([], [], None)


def test_a_year_holds_its_workouts_hours_and_load(ana):
    trained(ana, 2025, 1, 1, 40)
    trained(ana, 2025, 12, 31, 60, 30, "lifting")
    trained(ana, 2026, 1, 1, 7)
    this, last = years_of(ana, TODAY).years
    assert (last.first, last.last) == (date(2025, 1, 1), date(2025, 12, 31))
    assert (last.workouts, last.seconds, last.load.median) == (2, 5400, 100)
    assert [(one.family, one.seconds) for one in last.families] == [("steady", 3600), ("resistance", 1800)]
    assert (this.workouts, this.load.median) == (1, 7)


def test_the_running_year_ends_today_and_a_year_of_rest_stands_between(ana):
    trained(ana, 2024, 5, 1, 10)
    trained(ana, 2026, 1, 1, 10)
    found = years_of(ana, TODAY).years
    assert [span.first.year for span in found] == [2026, 2025, 2024]
    assert found[0].last == TODAY
    assert (found[1].workouts, found[1].load, found[1].bases) == (0, None, [])


def test_the_load_of_a_year_is_the_sum_of_draws_and_not_of_intervals(ana):
    for day in range(1, 5):
        trained(ana, 2025, 1, day, 100 + 20 * standard_normals(str(day)))
    load = years_of(ana, TODAY).years[0].load
    # Four independent sessions: twice the half-width of one, where intervals would add to four times.
    assert (load.high - load.low) / 2 == pytest.approx(2 * 1.2816 * 20, rel=0.12)


def test_parts_without_a_load_are_counted_as_missing_from_the_sum(ana):
    trained(ana, 2025, 1, 1, 40)
    trained(ana, 2025, 1, 2)
    (year,) = years_of(ana, TODAY).years[:1]
    assert (year.parts, year.without_load, year.load.median) == (2, 1, 40)


def test_bases_are_shares_of_parts(ana):
    for day, basis in ((1, Basis.MEASURED), (2, Basis.CORRECTED), (3, Basis.CORRECTED), (4, Basis.CORRECTED)):
        trained(ana, 2025, 1, day, 10.0 * day, basis=basis)
    bases = years_of(ana, TODAY).years[0].bases
    assert [(one.basis, one.parts, one.per_cent) for one in bases] == [
        ("measured", 1, 25),
        ("corrected", 3, 75),
    ]


def test_months_go_from_the_logs_first_to_the_last_that_has_begun(ana):
    trained(ana, 2025, 2, 28, 10)
    trained(ana, 2025, 12, 1, 20)
    trained(ana, 2026, 3, 10, 30)
    running = years_of(ana, TODAY).months
    assert [(span.first.month, span.load.median if span.load else None) for span in running] == [
        (1, None),
        (2, None),
        (3, 30),
    ]
    assert running[-1].last == TODAY
    chosen = years_of(ana, TODAY, 2025).months
    assert [span.first.month for span in chosen] == list(range(2, 13))
    assert (chosen[0].last, chosen[0].load.median, chosen[-1].load.median) == (date(2025, 2, 28), 10, 20)
    assert years_of(ana, TODAY, 1999).months == []


def test_this_year_is_compared_with_last_year_until_the_same_date(ana):
    trained(ana, 2025, 3, 10, 100)
    trained(ana, 2025, 3, 11, 1000)
    trained(ana, 2026, 3, 10, 130 * np.exp(0.1 * standard_normals("this")))
    found = years_of(ana, TODAY)
    assert found.until == date(2025, 3, 10)
    assert found.against_last.per_cent_likely == 95
    assert found.against_last.low < 30 < found.against_last.high


def test_a_year_without_a_load_yet_is_likely_lower_than_the_last(ana):
    trained(ana, 2025, 1, 1, 100)
    change = years_of(ana, TODAY).against_last
    assert (change.per_cent_likely, change.high) == (5, -100)


def test_without_a_load_until_the_same_date_there_is_no_comparison(ana):
    trained(ana, 2025, 6, 1, 100)
    trained(ana, 2026, 1, 1, 100)
    assert years_of(ana, TODAY).against_last is None


def test_a_leap_day_is_set_against_the_28th(ana):
    assert a_year_before(date(2028, 2, 29)) == date(2027, 2, 28)
    assert a_year_before(date(2027, 2, 28)) == date(2026, 2, 28)


def test_loads_of_another_source_measure_or_athlete_are_left_out(ana):
    trained(ana, 2025, 1, 1, 40)
    trained(ana, 2025, 1, 2, 500, source="an older one")
    trained(athlete("ben"), 2025, 1, 1, 600)
    assert years_of(ana, TODAY).years[0].load.median == 40
    ana.measure = "zones"
    assert years_of(ana, TODAY).years[0].load is None


def test_any_number_of_years_takes_two_queries(ana, django_assert_num_queries):
    for year in range(2015, 2026):
        trained(ana, year, 1, 1, 40)
    with django_assert_num_queries(2):
        years_of(ana, TODAY)
