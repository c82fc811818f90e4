import re
from datetime import timedelta

import pytest

from tests.builders import MORNING, athlete, csv_file, estimate, imported, part, sensor
from trainlog.load.draws import standard_normals
from trainlog.models import Basis, Part, Physiology
from trainlog.services.unknown_days import mark_unknown

pytestmark = pytest.mark.django_db

FEW_QUERIES = 31
SPRING = MORNING.date()


@pytest.fixture
def ana(client):
    owner = athlete()
    client.force_login(owner.user)
    return owner


def with_physiology(owner):
    Physiology.objects.create(owner=owner, from_day=SPRING, resting_rate=50, maximum_rate=190)


def page(client, address="/", **kwargs):
    response = client.get(address, **kwargs)
    assert response.status_code == 200
    return response.content.decode()


def test_an_empty_log_explains_itself_in_three_steps(client, ana):
    shown = page(client)
    assert "Three steps" in shown
    assert "Say who you are" in shown
    assert shown.count("<h3>") == 3


def test_each_step_says_how_long_it_takes_and_why_and_one_comes_next(client, ana):
    shown = page(client)
    assert shown.count("<b>Takes</b>") == 3
    assert shown.count("<b>Why:</b>") == 3
    assert shown.count('aria-current="step"') == 1
    assert "Look at a demo first" in shown


def test_a_step_that_is_done_says_so(client, ana):
    with_physiology(ana)
    shown = page(client)
    assert shown.count('<li class="done">') == 1
    assert shown.index(">next</span>") > shown.index("Add one session twice")


def test_after_one_sensors_file_the_log_says_what_a_pair_lacks(client, ana, settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    with_physiology(ana)
    sensor(ana, "left wrist", source_key="csv:watch")
    recording = imported(ana, csv_file(device="watch"))
    shown = page(client)
    assert "Missing: the file of the chest strap." in shown
    assert f'<a href="/workouts/{recording.workout_id}">2 March, 06:30</a> only the wrist sensor' in shown
    assert "Look at a demo first" not in shown


def test_a_workout_is_one_line_with_its_load_and_what_it_rests_on(client, ana):
    with_physiology(ana)
    estimate(part(ana), 100 + 8 * standard_normals("a"), basis=Basis.CORRECTED)
    shown = page(client)
    assert ">run</a>" in shown
    assert "<b>100</b>" in shown
    assert "90–110" in shown
    assert "corrected" in shown
    assert "fair" in shown or "loose" in shown
    assert "typed, no file" in shown


def test_the_interval_is_drawn_in_the_scale_of_the_page(client, ana):
    estimate(part(ana), 100.0)
    estimate(part(ana, MORNING + timedelta(days=1)), 50.0)
    shown = page(client)
    assert 'x1="98.04%"' in shown
    assert 'x1="49.02%"' in shown


def test_two_parts_show_both_activities_and_the_sum_of_their_loads(client, ana):
    first = part(ana, activity="lifting")
    second = part(ana, MORNING + timedelta(hours=2), activity="mixed-intervals")
    second.workout, old = first.workout, second.workout
    second.save()
    old.delete()
    estimate(first, 40.0, basis=Basis.MEASURED)
    estimate(second, 60.0, basis=Basis.UNCORRECTED)
    shown = page(client)
    assert "lifting + mixed intervals" in shown
    assert "<b>100</b>" in shown
    assert "#mark-measured" in shown
    assert "#mark-uncorrected" in shown


def test_days_are_grouped_by_week_newest_first(client, ana):
    for offset in (0, 6, 7):
        part(ana, MORNING + timedelta(days=offset))
    shown = page(client, "/?page=0")
    newest, older = shown.index("Week of 9 March"), shown.index("Week of 2 March")
    assert newest < older


def test_the_head_of_a_week_says_how_many_of_its_days_are_not_known(client, ana):
    estimate(part(ana), 100.0)
    estimate(part(ana, MORNING + timedelta(days=7)), 100.0)
    mark_unknown(ana, SPRING + timedelta(days=1), SPRING + timedelta(days=2))
    assert page(client).count("2 days not known, so at least this") == 1
    assert "not known, so" not in page(client, "/?text=run")


def test_times_are_local(client):
    owner = athlete("bo", time_zone="Asia/Tokyo")
    client.force_login(owner.user)
    part(owner)
    assert "15:30" in page(client)


def test_older_weeks_are_on_further_pages(client, ana):
    part(ana, MORNING)
    for week in range(30, 36):
        part(ana, MORNING + timedelta(weeks=week), activity="row")
    newest, older = page(client), page(client, "/?page=1")
    assert "?page=1" in newest
    assert ">run</a>" not in newest
    assert ">run</a>" in older
    assert "Newer weeks" in older
    assert "?page=2" not in older


@pytest.mark.parametrize("number", ["-1", "x", "99999999"])
def test_a_page_that_cannot_be_is_not_found(client, ana, number):
    assert client.get(f"/?page={number}").status_code == 404


def test_a_log_without_physiology_says_what_is_missing(client, ana):
    part(ana)
    assert "No load can be told without your resting and maximum heart rate" in page(client)


def test_a_load_on_its_way_is_announced(client, ana):
    with_physiology(ana)
    part(ana)
    assert "1 load is still being estimated" in page(client)


def test_the_log_shows_nothing_of_others(client, ana):
    other = athlete("bo")
    part(other, activity="row")
    assert ">row</a>" not in page(client)


def test_the_number_of_queries_does_not_grow_with_the_log(client, ana, django_assert_max_num_queries):
    sensor(ana, source_key="csv:wrist 1")
    for day in range(20):
        recording = imported(ana, csv_file(MORNING + timedelta(days=day)), f"{day}.csv")
        estimate(Part.objects.get(workout=recording.workout), 80.0)
    with django_assert_max_num_queries(FEW_QUERIES):
        page(client)


def test_a_visitor_is_asked_to_sign_in(client):
    response = client.get("/")
    assert response.status_code == 302
    assert response["Location"].startswith("/sign-in")


def test_the_mark_of_a_load_opens_why_it_is_what_it_is(client, ana):
    one = part(ana)
    estimate(one, 100.0, reason="Two pairs of runs say that it reads low.")
    shown = page(client)
    assert f'<details class="flag bases" id="why-{one.workout_id}">' in shown
    assert "<p>Two pairs of runs say that it reads low.</p>" in shown


def test_each_part_of_a_workout_says_why_under_its_name(client, ana):
    first = part(ana, activity="lifting")
    second = part(ana, MORNING + timedelta(hours=2), activity="row")
    second.workout, old = first.workout, second.workout
    second.save()
    old.delete()
    estimate(first, 40.0, reason="One.")
    estimate(second, 60.0, reason="Two.")
    shown = page(client)
    assert "<b>Lifting:</b> One." in shown
    assert "<b>Row:</b> Two." in shown


def test_a_line_reads_as_one_sentence(client, ana):
    estimate(part(ana), 100.0, basis=Basis.REPORTED)
    line = page(client).split('<ol class="lines">')[1].split("</ol>")[0]
    line = re.sub(r'<div class="because">.*?</div>', "", line, flags=re.DOTALL)
    spoken = " ".join(re.sub(r"<[^>]+>", "", line).split())
    spoken = re.sub(r" (?=[,:.])", "", spoken)
    assert spoken == (
        "Mon 2 Mar 06:30: run, 60 min, load 100, 80% interval 100–100, reported firm: why?, typed, no file."
    )
