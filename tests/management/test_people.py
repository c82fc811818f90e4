"""Commands about people: a sign-in is made, a log travels, a log is deleted."""

import io

import pytest
from django.contrib.auth import authenticate, get_user_model
from django.core.management import CommandError, call_command

from tests.builders import athlete, csv_file, imported
from trainlog.models import Activity, Athlete, Workout
from trainlog.services.demo import ask_for_demo

pytestmark = pytest.mark.django_db

PASSWORD = "seven calm otters"


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path / "data"
    settings.DATA_FOLDER.mkdir()
    return tmp_path


@pytest.fixture
def typing(monkeypatch):
    """What is typed where a password is asked for."""

    def types(*answers):
        left = iter(answers)
        monkeypatch.setattr("getpass.getpass", lambda prompt: next(left))

    return types


def run(*arguments, **options):
    said = io.StringIO()
    call_command(*arguments, stdout=said, **options)
    return said.getvalue()


def test_a_person_is_added_with_an_empty_log(typing, rf):
    typing(PASSWORD, PASSWORD)
    assert "cora can sign in now" in run("add_person", "cora", time_zone="Europe/Lisbon")
    assert authenticate(rf.post("/"), username="cora", password=PASSWORD)
    cora = Athlete.objects.get(user__username="cora")
    assert cora.time_zone == "Europe/Lisbon"
    assert Activity.objects.of(cora).exists()
    assert not cora.user.is_superuser


@pytest.mark.parametrize(
    ("name", "passwords", "zone", "words"),
    [
        ("cora", (PASSWORD, "another"), "UTC", "differ"),
        ("cora", ("short", "short"), "UTC", "too short"),
        ("cora", (PASSWORD, PASSWORD), "Atlantis", "no time zone"),
        ("demo/1", (PASSWORD, PASSWORD), "UTC", "valid username"),
        ("ana", (PASSWORD, PASSWORD), "UTC", "already exists"),
    ],
)
def test_a_sign_in_that_cannot_be_is_refused_whole(typing, name, passwords, zone, words):
    athlete("ana")
    typing(*passwords)
    with pytest.raises(CommandError, match=words):
        run("add_person", name, time_zone=zone)
    assert list(get_user_model().objects.values_list("username", flat=True)) == ["ana"]


def test_a_log_travels_by_two_commands(data_folder):
    imported(athlete("ana"), csv_file())
    ben = athlete("ben")
    file = str(data_folder / "whole.zip")
    run("export_log", file, user="ana")
    assert (data_folder / "whole.zip").stat().st_mode & 0o777 == 0o600
    assert "1 workouts and 1 files" in run("import_log", file, user="ben")
    assert Workout.objects.of(ben).count() == 1
    with pytest.raises(CommandError, match="not empty"):
        run("import_log", file, user="ben")
    with pytest.raises(CommandError, match="there already"):
        run("export_log", file, user="ana")


def test_a_log_is_deleted_once_its_name_is_typed(monkeypatch):
    athlete("ana")
    monkeypatch.setattr("builtins.input", lambda prompt: "anna")
    with pytest.raises(CommandError, match="nothing was deleted"):
        run("delete_log", user="ana")
    monkeypatch.setattr("builtins.input", lambda prompt: "ana")
    assert "Left: 0 rows and 0 files" in run("delete_log", user="ana")
    assert not Athlete.objects.exists()


def test_commands_know_neither_strangers_nor_demos():
    demo = ask_for_demo(athlete("ana").user)
    for name in ("nobody", demo.user.username):
        with pytest.raises(CommandError, match="There is no user"):
            run("delete_log", user=name, yes=True)
