from datetime import timedelta

import pytest
from django.utils import timezone

from tests import builders
from tests.builders import waiting
from trainlog import tasks
from trainlog.models import Recording
from trainlog.pace import CLAIM
from trainlog.services import reading_queue
from trainlog.services.import_files import READ_TASK

pytestmark = pytest.mark.django_db


@pytest.fixture
def woken(monkeypatch):
    """What a finished reading wakes workers with."""
    sent = []
    monkeypatch.setattr(tasks, "wake", lambda *task: sent.append(task))
    return sent


def soon():
    return timezone.now() + timedelta(seconds=60)


def just_now():
    return timezone.now() - timedelta(seconds=1)


def test_the_oldest_file_of_a_log_is_read_first(ana):
    newer, older = waiting(ana, minutes=1), waiting(ana, minutes=9)
    assert [reading_queue.take_next() for _ in range(3)] == [older.pk, newer.pk, None]


def test_a_single_file_is_read_among_the_first_of_another_logs_hundred(ana):
    ben = builders.athlete("ben")
    for _ in range(100):
        waiting(ana, minutes=9)
    single = waiting(ben, minutes=1)
    taken = [reading_queue.take_next() for _ in range(12)]
    # By lot, one in two: that it is not among twelve happens once in four thousand runs.
    assert single.pk in taken


def test_what_one_worker_took_up_no_other_takes(ana):
    waiting(ana, claimed_until=soon())
    assert reading_queue.take_next() is None


def test_a_claim_that_ran_out_is_taken_up_again(ana):
    recording = waiting(ana, attempts=2, claimed_until=just_now())
    assert reading_queue.take_next() == recording.pk


def test_a_claim_from_before_the_clock_was_set_back_holds_nothing_up(ana):
    recording = waiting(ana, claimed_until=timezone.now() + timedelta(hours=1))
    assert reading_queue.take_next() == recording.pk


def test_a_claim_of_a_machine_whose_clock_is_a_little_ahead_holds(ana):
    waiting(ana, claimed_until=timezone.now() + CLAIM + timedelta(seconds=5))
    assert reading_queue.take_next() is None


def test_an_attempt_is_counted_before_it_breaks(ana, monkeypatch):
    recording = waiting(ana)

    def break_off(recording_id):
        raise MemoryError

    monkeypatch.setattr("trainlog.services.import_files.read_recording", break_off)
    with pytest.raises(MemoryError):
        tasks.read_next()
    recording.refresh_from_db()
    assert recording.attempts == 1
    assert recording.claimed_until > timezone.now()


def test_no_fourth_attempt_is_begun(ana):
    waiting(ana, attempts=3)
    assert reading_queue.take_next() is None


def test_a_third_attempt_that_never_ended_is_refused_with_words_a_person_can_read(ana):
    recording = waiting(ana, attempts=3, claimed_until=just_now())
    assert reading_queue.give_up() == 1
    recording.refresh_from_db()
    assert (recording.state, recording.problem) == (Recording.State.REFUSED, reading_queue.GIVEN_UP)


def test_a_third_attempt_that_is_still_running_is_not_given_up(ana):
    waiting(ana, attempts=3, claimed_until=soon())
    assert reading_queue.give_up() == 0


def test_a_wake_up_too_many_finds_nothing_and_ends(ana, woken):
    recording = waiting(ana)
    tasks.read_next()
    tasks.read_next()
    recording.refresh_from_db()
    assert (recording.state, recording.attempts) == (Recording.State.READ, 1)
    assert woken == []


def test_one_wake_up_reads_all_that_it_can_in_a_moment(ana, woken):
    for _ in range(3):
        waiting(ana)
    tasks.read_next()
    assert not Recording.objects.filter(state=Recording.State.RECEIVED).exists()
    assert woken == []


def test_once_the_moment_is_over_no_other_file_is_begun(ana, woken, monkeypatch):
    monkeypatch.setattr(tasks, "READ_FOR", -1.0)
    for _ in range(3):
        waiting(ana)
    tasks.read_next()
    assert Recording.objects.filter(state=Recording.State.RECEIVED).count() == 2
    assert woken == []


def test_a_wake_up_of_the_sweep_goes_on_until_none_is_left(ana, woken, monkeypatch):
    monkeypatch.setattr(tasks, "READ_FOR", -1.0)
    waiting(ana)
    waiting(ana)
    tasks.read_next(True)
    tasks.read_next(True)
    assert woken == [(READ_TASK, True)]


def test_a_reading_that_breaks_does_not_end_the_chain(ana, woken, monkeypatch):
    waiting(ana)
    waiting(ana)

    def break_off(recording_id):
        raise MemoryError

    monkeypatch.setattr("trainlog.services.import_files.read_recording", break_off)
    with pytest.raises(MemoryError):
        tasks.read_next(True)
    assert woken == [(READ_TASK, True)]
