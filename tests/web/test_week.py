from datetime import timedelta

import pytest
from django.utils import timezone

from tests.builders import MORNING, athlete, estimate, part
from trainlog.load.draws import standard_normals
from trainlog.models import Basis, Physiology
from trainlog.web.week import axis_ticks

pytestmark = pytest.mark.django_db

FEW_QUERIES = 20


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    Physiology.objects.create(owner=owner, from_day=MORNING.date(), resting_rate=50, maximum_rate=190)
    return owner


def page(client, address="/week/2026-03-04"):
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def test_a_week_shows_its_sum_and_both_doubts_apart(client, ana):
    estimate(part(ana), 100 + 5 * standard_normals("a"))
    estimate(part(ana, MORNING + timedelta(days=2)), 50.0)
    shown = page(client)
    assert "2 March – 8 March 2026" in shown
    assert "<b>150</b>" in shown
    assert "80% between 144 and 156" in shown
    assert "Sensor doubt" in shown
    assert "Physiology doubt" in shown


def test_each_part_has_its_flag_with_the_reason(client, ana):
    estimate(part(ana), 100.0, basis=Basis.ACCEPTED, reason="The wrist follows well on a run.")
    shown = page(client)
    assert "#mark-accepted" in shown
    assert "The wrist follows well on a run." in shown
    assert "<summary>" in shown


def test_the_comparison_is_a_probability_with_a_range(client, ana):
    estimate(part(ana, MORNING - timedelta(days=7)), 100.0)
    estimate(part(ana), 120 + 10 * standard_normals("b"))
    assert "95% likely higher; between 7% and 33% higher" in page(client)


def test_the_usual_week_stands_beside_with_the_weeks_it_rests_on(client, ana):
    for weeks in (1, 2, 3):
        estimate(part(ana, MORNING - timedelta(days=7 * weeks)), 100.0)
    estimate(part(ana), 120 + 10 * standard_normals("b"))
    shown = page(client)
    assert shown.count("95% likely higher; between 7% and 33% higher") == 2
    assert "than your usual week, the mean of 3 weeks before it" in shown


def test_without_two_weeks_before_nothing_is_said_of_the_usual_one(client, ana):
    estimate(part(ana, MORNING - timedelta(days=7)), 100.0)
    estimate(part(ana), 120.0)
    assert "usual week" not in page(client)


def test_what_makes_the_doubt_is_said_in_words_with_a_link(client, ana):
    loose = part(ana, MORNING + timedelta(days=1), activity="mixed-intervals")
    estimate(loose, 100 + 20 * standard_normals("loose"))
    estimate(part(ana), 100.0)
    said = page(client).split("Most of the week’s sensor doubt comes from ")[1].split("</p>")[0]
    link = f'<a href="/workouts/{loose.workout_id}">mixed intervals</a>'
    assert said == f"Tuesday’s {link} (100%); with a strap there it would be ±0% instead of ±13%."


def test_two_that_make_the_doubt_are_named_together(client, ana):
    for offset, name in ((1, "one"), (3, "two")):
        estimate(part(ana, MORNING + timedelta(days=offset)), 100 + 20 * standard_normals(name))
    for offset in (2, 4, 5):
        estimate(part(ana, MORNING + timedelta(days=offset)), 100 + 6 * standard_normals(str(offset)))
    said = page(client).split("Most of the week’s sensor doubt comes from ")[1].split("</p>")[0]
    assert "%) and " in said
    assert "with a strap on both it would be" in said


def test_a_week_known_well_says_nothing_of_what_makes_the_doubt(client, ana):
    estimate(part(ana), 100.0)
    assert "doubt comes from" not in page(client)


def test_parts_are_counted_by_family_with_their_time(client, ana):
    estimate(part(ana), 100.0)
    part(ana, MORNING + timedelta(days=1), 45, activity="lifting")
    assert "Steady endurance 1 h 00 min in 1&nbsp;part, resistance 45 min in 1&nbsp;part" in page(client)


def test_without_a_week_before_there_is_no_comparison(client, ana):
    estimate(part(ana), 100.0)
    assert "no load to compare with" in page(client)


def test_the_shares_say_what_the_load_rests_on(client, ana):
    estimate(part(ana), 75.0, basis=Basis.MEASURED)
    estimate(part(ana, MORNING + timedelta(days=1)), 25.0, basis=Basis.REPORTED)
    shown = page(client)
    assert "75%" in shown
    assert "25%" in shown


def test_session_rpe_load_counts_what_was_rated(client, ana):
    part(ana, session_rpe=5)
    estimate(part(ana, MORNING + timedelta(days=1), session_rpe=None), 10.0)
    assert "300 <span" in page(client)
    assert "1 of 2 rated" in page(client)


def test_this_week_says_that_it_is_not_over(client, ana):
    today = timezone.now().date()
    shown = page(client, "/week")
    assert ("not over" in shown) == (today.weekday() < 6)


def test_a_past_week_does_not(client, ana):
    assert "not over" not in page(client)


def test_a_day_without_a_workout_is_rest(client, ana):
    estimate(part(ana), 75.0)
    assert page(client).count(">rest<") == 6


def test_weeks_are_linked_to_their_neighbours(client, ana):
    shown = page(client)
    assert "/week/2026-02-23" in shown
    assert "/week/2026-03-09" in shown


def test_the_care_note_is_there(client, ana):
    assert "chest pain" in page(client)


@pytest.mark.parametrize("day", ["2026-02-30", "0001-01-01", "9999-12-31"])
def test_a_week_that_cannot_be_is_not_found(client, ana, day):
    assert client.get(f"/week/{day}").status_code == 404


def test_a_week_shows_nothing_of_others(client, ana):
    theirs = part(athlete("bo"), activity="row")
    estimate(theirs, 99.0)
    shown = page(client)
    assert "Nothing is logged in this week." in shown
    assert f"/workouts/{theirs.workout_id}" not in shown


def test_the_number_of_queries_does_not_grow_with_the_week(client, ana, django_assert_max_num_queries):
    for hour in range(0, 160, 4):
        estimate(part(ana, MORNING.replace(hour=0) + timedelta(hours=hour)), 10.0)
    with django_assert_max_num_queries(FEW_QUERIES):
        page(client)


def test_the_number_of_queries_does_not_grow_with_the_history(client, ana, django_assert_max_num_queries):
    for weeks in range(12):
        for offset in (0, 2, 4):
            estimate(part(ana, MORNING - timedelta(days=7 * weeks + offset)), 10.0)
    with django_assert_max_num_queries(FEW_QUERIES):
        page(client)


def test_the_axis_has_round_ticks_that_stay_inside():
    ticks = axis_ticks(287.0)
    assert [tick.label for tick in ticks] == ["0", "100", "200"]
    assert all(0 <= tick.at <= 97 for tick in ticks)
    assert [tick.label for tick in axis_ticks(1.0)] == ["0", "0.5"]
