from datetime import UTC, datetime, time, timedelta

import pytest
from icalendar import Calendar

from tests.builders import MORNING, activity_of, athlete, estimate, part
from trainlog.load.draws import standard_normals
from trainlog.load.plan import AgainstRange, Open
from trainlog.models import PlannedSession, UnknownDay, WeekPlan
from trainlog.services.plan import set_range
from trainlog.web import plan_words

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()
WEEK = timedelta(days=7)
ADDRESS = f"/week/{MONDAY}"


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def planned(owner, day=MONDAY, activity="run", **fields):
    return PlannedSession.objects.create(
        owner=owner, day=day, activity=activity_of(owner, activity), **fields
    )


def page(client, address=ADDRESS):
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def this_week(owner):
    today = owner.today()
    return today - timedelta(days=today.weekday())


def test_a_week_without_a_plan_offers_to_make_one(client, ana):
    shown = page(client)
    assert "Nothing is planned for this week." in shown
    assert "Same again next week" not in shown


def test_a_week_to_come_shows_its_plan(client, ana):
    monday = this_week(ana) + 3 * WEEK
    planned(ana, monday, minutes=60, hard=True, note="hills")
    set_range(ana, monday, 300, 400)
    shown = page(client, f"/week/{monday}")
    assert "This week has not begun." in shown
    assert "Between 300 and 400" in shown
    assert "Run, 60 min, hard" in shown
    assert "to come" in shown
    assert "likely" not in shown.split('id="plan"')[1]


def test_the_likely_load_stands_in_words_beside_its_drawing(client, ana):
    set_range(ana, MONDAY, 100, 300)
    estimate(part(ana), 100 + 10 * standard_normals("run"))
    said = page(client).split('id="plan"')[1]
    assert "50% likely within the range, 50% below it" in said
    assert "meant-range" in said
    assert "Still open" not in said


def test_the_running_week_says_what_is_open_as_an_interval(client, ana):
    monday = this_week(ana)
    set_range(ana, monday, 1000, None)
    begun = MORNING + (monday - MONDAY)
    estimate(part(ana, begun), 900 + 47 * standard_normals("run"))
    assert "Still open: between 40 and 160 more to reach 1000" in page(client, "/week")


def test_a_range_is_set_changed_and_taken_back(client, ana):
    answer = client.post(f"{ADDRESS}/plan", {"low": "300", "high": "400", "note": "steady"}, follow=True)
    assert "Between 300 and 400" in answer.content.decode()
    client.post(f"/week/{MONDAY + timedelta(days=3)}/plan", {"low": "", "high": "350"})
    assert (WeekPlan.objects.get().low, WeekPlan.objects.get().high) == (None, 350)
    assert 'value="350"' in page(client)
    client.post(f"{ADDRESS}/plan", {"clear": ""})
    assert not WeekPlan.objects.exists()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"low": "5", "high": "4"}, "must not exceed"),
        ({}, "Enter the least load"),
        ({"low": "-1"}, "between 0 and 100,000"),
        ({"low": "many"}, "Enter a number"),
    ],
)
def test_a_range_that_is_none_is_explained_and_not_kept(client, ana, typed, words):
    answer = client.post(f"{ADDRESS}/plan", typed)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not WeekPlan.objects.exists()


def test_a_session_is_planned_changed_and_taken_back(client, ana):
    typed = {"day": str(MONDAY), "activity": activity_of(ana, "run").pk, "minutes": "60", "hard": "on"}
    assert client.post(f"{ADDRESS}/sessions", typed)["Location"] == ADDRESS
    session = PlannedSession.objects.get()
    assert (session.minutes, session.hard) == (60, True)
    moved = typed | {"day": str(MONDAY + WEEK), "minutes": ""}
    assert client.post(f"/planned/{session.pk}", moved)["Location"] == f"/week/{MONDAY + WEEK}"
    session.refresh_from_db()
    assert (session.day, session.minutes) == (MONDAY + WEEK, None)
    client.post(f"/planned/{session.pk}/delete")
    assert not PlannedSession.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"minutes": "1441"}, "24 hours"),
        ({"day": "2026-02-30"}, "valid date"),
        ({"day": "9999-12-31"}, "between 1970 and 2999"),
        ({"activity": ""}, "required"),
    ],
)
def test_a_session_that_cannot_be_is_explained_with_what_was_typed(client, ana, wrong, words):
    typed = {"day": str(MONDAY), "activity": activity_of(ana, "run").pk, "note": "by the river"}
    answer = client.post(f"{ADDRESS}/sessions", typed | wrong)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "by the river" in answer.content.decode()
    assert not PlannedSession.objects.exists()


def test_a_change_that_cannot_be_leaves_the_session(client, ana):
    session = planned(ana, minutes=60)
    typed = {"day": str(MONDAY), "activity": session.activity_id, "minutes": "0"}
    assert client.post(f"/planned/{session.pk}", typed).status_code == 422
    session.refresh_from_db()
    assert session.minutes == 60


def test_the_same_again_shows_the_next_week_and_says_what_stood_there(client, ana):
    planned(ana)
    set_range(ana, MONDAY, 100, 200)
    set_range(ana, MONDAY + WEEK, 10, 20)
    answer = client.post(f"{ADDRESS}/again", follow=True)
    shown = answer.content.decode()
    assert answer.redirect_chain[-1][0] == f"/week/{MONDAY + WEEK}"
    assert "1 session added. The load planned for this week before stands as it was." in shown


def test_nothing_planned_cannot_be_repeated(client, ana):
    answer = client.post(f"{ADDRESS}/again", follow=True)
    assert "Nothing is planned in this week" in answer.content.decode()


def test_a_session_done_links_to_its_workout(client, ana):
    planned(ana, activity="ride")
    done = part(ana)
    said = page(client).split('id="plan"')[1]
    assert "done otherwise" in said
    assert f'<a href="/workouts/{done.workout_id}">run, 1 h 00 min</a>' in said


def test_days_marked_unknown_are_said_not_to_count(client, ana):
    set_range(ana, MONDAY, 100, 200)
    UnknownDay.objects.create(owner=ana, day=MONDAY)
    assert "1 day of this week is marked unknown; what it held is not counted here." in page(client)


def test_the_plan_is_a_file_for_a_calendar(client, ana):
    planned(ana)
    answer = client.get("/plan.ics")
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert "plan.ics" in answer["Content-Disposition"]
    assert len(Calendar.from_ical(answer.content).walk("VEVENT")) == 1


@pytest.mark.parametrize(
    ("likely", "said"),
    [
        (AgainstRange(25, 70, 5), "70% likely within the range, 25% below it"),
        (AgainstRange(95, 5, None), "95% likely below the range"),
        (AgainstRange(None, 40, 60), "60% likely above the range, 40% within it"),
        (AgainstRange(30, 40, 30), "40% likely within the range, 30% below it, 30% above it"),
    ],
)
def test_likely_sides_are_said_in_their_order_and_seldom_ones_left_out(likely, said):
    assert plan_words.against_range(likely) == said


@pytest.mark.parametrize(
    ("to_bound", "said"),
    [
        (Open(40.2, 100, 160), "between 40 and 160 more"),
        (Open(0, 10, 60), "up to 60 more"),
        (Open(0, 0, 0), "nothing more"),
        (Open(300, 300, 300), "300 more"),
    ],
)
def test_what_is_open_is_said_as_an_interval(to_bound, said):
    assert plan_words.missing(to_bound) == said


def test_the_form_of_a_load_shows_what_the_weeks_before_came_to(client, ana):
    estimate(part(ana, MORNING - WEEK), 80.0)
    estimate(part(ana, MORNING - 6 * WEEK), 999.0)
    shown = page(client, f"{ADDRESS}/plan")
    assert "<b>80</b>" in shown
    assert "999" not in shown


def test_what_is_planned_stands_at_its_day_until_it_is_done(client, ana):
    today = ana.today()
    planned(ana, today, minutes=40)
    morning = datetime.combine(today, time(0, 1), tzinfo=UTC)
    lifted = part(ana, morning, activity="lifting")
    estimate(lifted, 80.0)
    assert "still planned" in page(client, "/week")
    estimate(part(ana, morning + timedelta(hours=2)), 80.0)
    assert "still planned" not in page(client, "/week")
