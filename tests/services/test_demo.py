"""A person's own copy of the demo: made in pieces, apart from the log, and removed without a trace."""

from datetime import timedelta

import pytest
from django.contrib.auth import get_user_model
from django.contrib.auth.forms import AuthenticationForm
from django.utils import timezone

from fixtures.demo import scenario as invented
from tests.builders import athlete, csv_file, imported
from trainlog import originals, tasks
from trainlog.models import Athlete, Recording, Sensor, Workout
from trainlog.services import demo as demos
from trainlog.services import demo_scenario
from trainlog.services.demo import ask_for_demo, demo_of, demos_to_go_on_with, go_on_making, remove_demo
from trainlog.services.sweep import sweep

pytestmark = pytest.mark.django_db

WEEKS = 2


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path


@pytest.fixture(autouse=True)
def short(monkeypatch):
    """Two weeks of the demo stand for all of it."""
    whole = invented.scenario
    monkeypatch.setattr(invented, "scenario", lambda last_day: whole(last_day, WEEKS))


def made_for(owner):
    demo = ask_for_demo(owner.user)
    assert go_on_making(demo.pk)
    demo.user.refresh_from_db()
    return demo


def test_the_demo_fills_a_log_of_its_own_and_leaves_the_persons_alone(ana):
    demo = made_for(ana)
    assert Workout.objects.of(demo).count() > 5
    assert demos.is_ready(demo)
    assert not Workout.objects.of(ana).exists()
    assert not Sensor.objects.of(ana).exists()


def test_nobody_can_sign_in_to_the_demo(ana, rf):
    user = ask_for_demo(ana.user).user
    assert (user.is_active, user.has_usable_password()) == (False, False)
    for password in ("", "demo", user.password):
        form = AuthenticationForm(rf.post("/"), {"username": user.username, "password": password})
        assert not form.is_valid()
    with pytest.raises(Exception, match="valid username"):
        get_user_model()(username=user.username, password="x").full_clean()


def test_asking_twice_makes_one_demo(ana):
    assert ask_for_demo(ana.user) == ask_for_demo(ana.user)
    assert Athlete.objects.filter(demo_for=ana.user).count() == 1


def test_two_people_have_a_demo_each(ana):
    one, other = ask_for_demo(ana.user), ask_for_demo(athlete("ben").user)
    assert one != other


def test_it_is_made_in_pieces_each_of_the_same_scenario(ana, monkeypatch):
    demo = ask_for_demo(ana.user)
    days = []
    whole = invented.scenario
    monkeypatch.setattr(invented, "scenario", lambda day: days.append(day) or whole(day))
    pieces = 1
    while not go_on_making(demo.pk, seconds=0):
        pieces += 1
    files = len(whole(days[0]).files)
    assert pieces == files + 1
    assert len(set(days)) == 1
    assert Recording.objects.of(demo).filter(state="read").count() == files


def test_a_finished_demo_is_left_as_it_is(ana):
    demo = made_for(ana)
    Workout.objects.of(demo).delete()
    assert go_on_making(demo.pk)
    assert not Workout.objects.of(demo).exists()


def test_the_task_goes_on_in_a_further_task(ana, monkeypatch):
    sent = []
    monkeypatch.setattr(tasks, "wake", lambda *what: sent.append(what))
    monkeypatch.setattr(demos, "TIME_LIMIT", 0.0)
    monkeypatch.setattr(demos.go_on_making, "__kwdefaults__", {"seconds": 0.0})
    demo = ask_for_demo(ana.user)
    tasks.make_demo(demo.pk)
    assert sent == [(demos.DEMO_TASK, demo.pk)]


def test_the_sweep_goes_on_with_a_demo_whose_worker_was_lost_but_not_for_ever(ana, monkeypatch):
    sent = []
    monkeypatch.setattr("trainlog.services.sweep.wake", lambda *what: sent.append(what) or True)
    demo = ask_for_demo(ana.user)
    sweep()
    assert sent == [(demos.DEMO_TASK, demo.pk)]
    get_user_model().objects.filter(pk=demo.user_id).update(
        date_joined=timezone.now() - demos.GIVEN_UP_AFTER - timedelta(minutes=1)
    )
    assert not demos_to_go_on_with().exists()


def test_removing_it_leaves_no_row_and_no_file_of_it_and_all_of_the_persons(ana):
    recording = imported(ana, csv_file())
    demo = made_for(ana)
    proof = remove_demo(ana.user)
    assert proof.nothing_left
    assert len(proof.rows) > 20
    assert not originals.folder_of(demo.pk).exists()
    assert not get_user_model().objects.filter(pk=demo.user_id).exists()
    assert demo_of(ana.user) is None
    assert originals.read(ana.pk, recording.sha256) == csv_file()
    assert remove_demo(ana.user) is None


@pytest.mark.django_db(transaction=True)
def test_a_demo_that_is_removed_while_it_is_made_leaves_nothing(ana, monkeypatch):
    demo = ask_for_demo(ana.user)
    receive = demo_scenario.receive

    def remove_and_receive(*of, **how):
        remove_demo(ana.user)
        return receive(*of, **how)

    monkeypatch.setattr(demo_scenario, "receive", remove_and_receive)
    assert go_on_making(demo.pk)
    assert not originals.folder_of(demo.pk).exists()


def test_the_number_of_files_that_is_told_beforehand_is_about_right(monkeypatch):
    monkeypatch.undo()
    files = len(invented.scenario(timezone.now().date()).files)
    assert abs(files - demos.ABOUT_FILES) <= 0.1 * demos.ABOUT_FILES
