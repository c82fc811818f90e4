from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from tests.builders import MORNING, activity_of, athlete, estimate, part
from trainlog.load.draws import standard_normals
from trainlog.models import CheckIn, PlannedSession, UnknownDay

pytestmark = pytest.mark.django_db

FEW_QUERIES = 12


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def page(client, address="/calendar/2026-03"):
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def test_a_month_shows_each_workout_with_its_load_and_the_weeks_sum(client, ana):
    one = part(ana)
    estimate(one, 100 + 5 * standard_normals("a"))
    estimate(part(ana, MORNING + timedelta(days=1)), 50.0)
    shown = page(client)
    assert "<h1>March 2026</h1>" in shown
    assert f'<a href="/workouts/{one.workout_id}">run</a> <span class="quiet">60&nbsp;min</span>' in shown
    assert "<b>100</b>" in shown
    assert "94–106" in shown
    assert "<b>150</b>" in shown
    assert 'href="/week/2026-03-02"' in shown


def test_a_load_too_wide_to_train_by_is_hatched_and_said_to_be(client, ana):
    estimate(part(ana), 100 * np.exp(0.6 * standard_normals("wide")))
    shown = page(client).split("</table>")[0]
    assert "interval day unknown" in shown
    assert "too wide to train by" in shown


def test_plans_unknown_days_and_mornings_are_marked(client, ana):
    session = PlannedSession.objects.create(owner=ana, day=MORNING.date(), activity=activity_of(ana, "ride"))
    UnknownDay.objects.create(owner=ana, day=MORNING.date() + timedelta(days=1))
    CheckIn.objects.create(owner=ana, day=MORNING.date(), resting_rate=50)
    shown = page(client).split("</table>")[0]
    assert f'<a href="/planned/{session.pk}">Ride</a> <span class="quiet">· missed</span>' in shown
    assert "</svg> unknown" in shown
    assert 'aria-label="morning noted"' in shown


def test_today_is_marked_in_this_month_alone(client, ana):
    assert "today</span>" in page(client, "/calendar")
    assert "today</span>" not in page(client, "/calendar/2019-03")


def test_the_months_beside_are_one_step_away(client, ana):
    shown = page(client, "/calendar/2026-12")
    assert 'rel="prev" href="/calendar/2026-11"' in shown
    assert 'rel="next" href="/calendar/2027-01"' in shown


@pytest.mark.parametrize("month", ["2026-13", "2026-00", "0001-01", "9999-12", "march"])
def test_a_month_that_does_not_exist_is_not_found(client, ana, month):
    assert client.get(f"/calendar/{month}").status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_month(client, ana, django_assert_max_num_queries):
    for offset in range(28):
        estimate(part(ana, MORNING + timedelta(days=offset)), 10.0)
        day = MORNING.date() + timedelta(days=offset)
        PlannedSession.objects.create(owner=ana, day=day, activity=activity_of(ana, "run"))
    with django_assert_max_num_queries(FEW_QUERIES):
        page(client)


def test_years_show_hours_by_family_load_and_bases(client, ana):
    estimate(part(ana, datetime(2025, 5, 1, 8, tzinfo=UTC), 90), 100 + 5 * standard_normals("a"))
    part(ana, datetime(2025, 6, 1, 8, tzinfo=UTC), activity="lifting")
    shown = page(client, "/calendar/years")
    assert "steady endurance 1.5 h, resistance 1.0 h" in shown
    assert "94–106" in shown
    assert "#mark-corrected" in shown
    assert "1 part has no load yet and is missing from the sums." in shown
    assert 'href="/calendar/2025-05"' in shown


def test_the_months_of_another_year_are_chosen_by_address(client, ana):
    for year in (2024, 2025):
        estimate(part(ana, datetime(year, 5, 1, 8, tzinfo=UTC)), 100)
    assert "Months of 2025" in page(client, "/calendar/years")
    assert "Months of 2024" in page(client, "/calendar/years?year=2024")


def test_this_year_is_compared_with_last_year_in_words(client, ana):
    today = ana.today()
    for year, load in ((today.year - 1, 100.0), (today.year, 150.0)):
        estimate(part(ana, datetime(year, 1, 1, 8, tzinfo=UTC)), load)
    assert "95% likely higher; between 50% and 50% higher" in page(client, "/calendar/years")


@pytest.mark.parametrize("year", ["1999", "twenty", "-1", "99999"])
def test_a_year_without_a_workout_is_not_found(client, ana, year):
    estimate(part(ana), 100)
    assert client.get(f"/calendar/years?year={year}").status_code == 404


def test_an_empty_log_has_no_years(client, ana):
    assert "Nothing is logged yet." in page(client, "/calendar/years")


def test_a_row_of_the_month_begins_with_its_week(client, ana):
    rows = page(client, "/calendar/2026-03").partition("<tbody>")[2].split("<tr>")[1:]
    assert all(row.strip().startswith('<th scope="row"') for row in rows)
