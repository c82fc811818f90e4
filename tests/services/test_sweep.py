from datetime import timedelta

import pytest
from django.utils import timezone

from tests import builders
from trainlog.models import Recording, SweepRun
from trainlog.services import sweep as sweeping
from trainlog.services.import_files import READ_TASK, receive
from trainlog.signals import log_swept
from trainlog.tasks import read_recording

pytestmark = pytest.mark.django_db


@pytest.fixture
def woken(monkeypatch):
    """Ids of the recordings that a sweep wakes a worker for."""
    ids = []

    def note(task, recording_id):
        assert task == READ_TASK
        ids.append(recording_id)
        return True

    monkeypatch.setattr(sweeping, "wake", note)
    return ids


@pytest.fixture
def athlete():
    return builders.athlete()


def waiting(athlete, **fields):
    """Received file that has had its first chance."""
    recording = receive(athlete, "ride.csv", builders.csv_file(bpm=100 + Recording.objects.count()))
    fields = {"received_at": timezone.now() - timedelta(minutes=5)} | fields
    Recording.objects.filter(pk=recording.pk).update(**fields)
    recording.refresh_from_db()
    return recording


def test_a_recording_that_nobody_took_up_is_woken_for(athlete, woken):
    recording = waiting(athlete)
    assert sweeping.sweep().woken == 1
    assert woken == [recording.pk]


def test_a_recording_just_received_is_left_to_its_own_wake_up(athlete, woken):
    waiting(athlete, received_at=timezone.now())
    sweeping.sweep()
    assert woken == []


def test_one_sweep_claims_what_it_wakes_so_the_next_leaves_it_alone(athlete, woken):
    waiting(athlete)
    sweeping.sweep()
    sweeping.sweep()
    assert len(woken) == 1


def test_a_claim_that_ran_out_is_taken_up_again(athlete, woken):
    recording = waiting(athlete, attempts=2, claimed_until=timezone.now() - timedelta(seconds=1))
    sweeping.sweep()
    assert woken == [recording.pk]


def test_waiting_in_a_long_queue_is_no_failed_attempt(athlete, woken):
    recording = waiting(athlete)
    for _ in range(5):
        sweeping.sweep()
        Recording.objects.update(claimed_until=timezone.now() - timedelta(seconds=1))
    recording.refresh_from_db()
    assert (recording.state, recording.attempts) == (Recording.State.RECEIVED, 0)


def test_a_third_attempt_that_never_ended_is_refused_with_words_a_person_can_read(athlete, woken):
    recording = waiting(athlete, attempts=3, claimed_until=timezone.now() - timedelta(seconds=1))
    assert sweeping.sweep().given_up == 1
    recording.refresh_from_db()
    assert recording.state == Recording.State.REFUSED
    assert recording.problem == sweeping.GIVEN_UP
    assert woken == []


def test_a_third_attempt_that_is_still_running_is_not_given_up(athlete, woken):
    recording = waiting(athlete, attempts=3, claimed_until=timezone.now() + timedelta(seconds=60))
    sweeping.sweep()
    recording.refresh_from_db()
    assert recording.state == Recording.State.RECEIVED


def test_a_reading_that_breaks_is_counted_before_it_breaks(athlete, monkeypatch):
    recording = waiting(athlete)

    def break_off(recording_id):
        raise MemoryError

    monkeypatch.setattr("trainlog.services.import_files.read_recording", break_off)
    with pytest.raises(MemoryError):
        read_recording(recording.pk)
    recording.refresh_from_db()
    assert recording.attempts == 1
    assert recording.claimed_until > timezone.now()


def test_no_fourth_attempt_is_begun(athlete):
    assert not sweeping.begin_reading(waiting(athlete, attempts=3).pk)


def test_the_task_reads_a_recording_once(athlete):
    recording = waiting(athlete)
    read_recording(recording.pk)
    read_recording(recording.pk)
    recording.refresh_from_db()
    assert (recording.state, recording.attempts) == (Recording.State.READ, 1)


def test_every_app_is_asked_to_look_for_its_own_work_and_one_that_fails_stops_nobody(athlete, woken):
    asked = []

    def fail(**_):
        raise RuntimeError("no")

    def note(**_):
        asked.append(True)

    log_swept.connect(fail)
    log_swept.connect(note)
    try:
        sweeping.sweep()
    finally:
        log_swept.disconnect(fail)
        log_swept.disconnect(note)
    assert asked == [True]
    assert SweepRun.last() is not None


def test_one_row_tells_of_the_last_sweep(woken):
    sweeping.sweep()
    first = SweepRun.objects.get().ended_at
    sweeping.sweep()
    assert SweepRun.objects.get().ended_at > first
