"""How long what was deleted is kept, and when its bytes are forgotten."""

# mypy: disable-error-code="union-attr"

from datetime import timedelta

import pytest
from django.utils import timezone

from tests.builders import MORNING, athlete, csv_file, imported, part
from trainlog import originals
from trainlog.models import Deletion
from trainlog.models.deletion import KEPT_FOR
from trainlog.services.delete_workouts import delete_recording, delete_workout
from trainlog.services.deletions import delete_for_good, deletions_of, forget_old, keep_deleted
from trainlog.services.sweep import sweep

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


def grown_old(deletion, *, short_of=timedelta(0)):
    deletion.deleted_at = timezone.now() - KEPT_FOR + short_of
    deletion.save()
    return deletion


def is_kept(recording):
    return originals.path_of(recording.owner_id, recording.sha256).exists()


def test_the_sweep_forgets_a_deletion_after_thirty_days_with_its_originals():
    recording = imported(athlete(), csv_file())
    grown_old(delete_recording(recording))
    sweep()
    assert not Deletion.objects.exists()
    assert not is_kept(recording)


def test_until_then_it_is_kept():
    recording = imported(athlete(), csv_file())
    grown_old(delete_recording(recording), short_of=timedelta(minutes=1))
    assert forget_old() == 0
    assert is_kept(recording)


def test_an_original_that_a_recording_names_again_stays():
    owner = athlete()
    deletion = delete_recording(imported(owner, csv_file()))
    again = imported(owner, csv_file())
    delete_for_good(deletion)
    assert is_kept(again)


def test_an_original_that_another_deletion_names_stays_until_that_one_is_forgotten():
    owner = athlete()
    recording = imported(owner, csv_file())
    first = delete_recording(recording)
    second = delete_recording(imported(owner, csv_file()))
    delete_for_good(first)
    assert is_kept(recording)
    delete_for_good(second)
    assert not is_kept(recording)


def test_the_same_file_in_anothers_log_is_not_touched():
    theirs = imported(athlete("ben"), csv_file())
    delete_for_good(delete_recording(imported(athlete(), csv_file())))
    assert is_kept(theirs)


def test_deletions_are_listed_newest_first_and_only_as_long_as_they_can_be_undone():
    owner = athlete()
    grown_old(delete_workout(part(owner, MORNING).workout))
    second = delete_workout(part(owner, MORNING + timedelta(hours=3)).workout)
    third = delete_workout(part(owner, MORNING + timedelta(hours=6)).workout)
    assert list(deletions_of(owner)) == [third, second]


def test_a_long_name_is_cut():
    deletion = keep_deleted(athlete(), "x" * 300, {"rows": []})
    assert len(deletion.what) == 200
    assert deletion.what.endswith("…")
