"""Deleting everything leaves no row of anyone's table, no file, and the logs of others alone."""

from pathlib import Path

import pytest
from axes.models import AccessAttempt, AccessLog
from django.apps import apps
from django.contrib.auth import get_user_model

from tests.builders import athlete
from tests.full_log import full_log
from trainlog import originals
from trainlog.models import Athlete, Recording
from trainlog.services import second_step
from trainlog.services.delete_log import clear_away_leavings, contents_of, delete_log
from trainlog.services.demo import ask_for_demo, demo_of
from trainlog.services.sweep import sweep

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


@pytest.fixture
def ana():
    return full_log("ana", "zebra")


def everything():
    """Every row of every table, of whichever app, in words."""
    return [(model._meta.label, values) for model in apps.get_models() for values in model.objects.values()]


def files(folder: Path):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def test_no_row_of_any_table_and_no_file_is_left(data_folder):
    empty, no_files = everything(), files(data_folder)
    ana = full_log("ana", "zebra")
    second_step.begin(ana.user)
    second_step.new_codes(ana.user)
    AccessAttempt.objects.create(username=ana.user.username, ip_address="127.0.0.1", failures_since_start=1)
    AccessLog.objects.create(username=ana.user.username)
    assert len(everything()) > len(empty) + 40
    assert delete_log(ana).nothing_left
    assert everything() == empty
    assert [name for name in files(data_folder) if name != "originals"] == no_files


def test_the_log_of_another_stays_as_it_is(ana):
    ben = full_log("ben", "plain")
    ana_alone = everything()
    delete_log(ana)
    left = everything()
    assert left == [row for row in ana_alone if row in left]
    assert contents_of(ben).rows > 40
    for sha256 in Recording.objects.of(ben).values_list("sha256", flat=True):
        assert originals.read(ben.pk, sha256)


def test_what_goes_is_told_beforehand(ana):
    there = contents_of(ana)
    assert (there.workouts, there.files, there.sensors) == (1, 3, 2)


def test_the_demo_goes_with_its_person(ana):
    demo = ask_for_demo(ana.user)
    delete_log(ana)
    assert not Athlete.objects.exists()
    assert not get_user_model().objects.filter(pk=demo.user_id).exists()


def test_the_person_stays_where_only_the_demo_goes(ana):
    delete_log(ask_for_demo(ana.user))
    assert demo_of(ana.user) is None
    assert contents_of(ana).workouts == 1


def break_off(*_):
    raise KeyboardInterrupt


def test_broken_off_after_the_rows_the_sweep_removes_the_files(ana, monkeypatch):
    key = ana.pk
    with monkeypatch.context() as breaking:
        breaking.setattr(originals, "forget_all", break_off)
        with pytest.raises(KeyboardInterrupt):
            delete_log(ana)
    assert not Athlete.objects.filter(pk=key).exists()
    assert originals.count(key) == 3
    sweep()
    assert not originals.folder_of(key).exists()


def test_broken_off_before_the_rows_nothing_is_lost(ana):
    originals.mark_leaving(ana.pk)
    assert clear_away_leavings() == 0
    assert originals.leaving() == []
    assert originals.count(ana.pk) == 3


def test_files_of_a_log_that_nobody_deleted_are_never_swept_away():
    originals.keep(10**6, b"of a database that was put back from an older copy")
    sweep()
    assert originals.count(10**6) == 1


def test_an_empty_log_can_be_deleted_too():
    assert delete_log(athlete("ben")).nothing_left
