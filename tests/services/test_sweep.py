import pytest

from tests.builders import waiting
from trainlog.models import Recording, SweepRun
from trainlog.services import sweep as sweeping
from trainlog.services.import_files import READ_TASK
from trainlog.signals import log_swept

pytestmark = pytest.mark.django_db


@pytest.fixture
def woken(monkeypatch):
    """What a sweep wakes workers with."""
    sent = []

    def note(*task):
        sent.append(task)
        return True

    monkeypatch.setattr(sweeping, "wake", note)
    return sent


def test_a_file_that_nobody_took_up_is_woken_for(ana, woken):
    waiting(ana)
    assert sweeping.sweep().woken == 1
    assert woken == [(READ_TASK, True)]


def test_a_file_just_received_is_left_to_its_own_wake_up(ana, woken):
    waiting(ana, minutes=0)
    sweeping.sweep()
    assert woken == []


def test_many_files_are_woken_for_by_a_few_that_go_on(ana, woken):
    for _ in range(9):
        waiting(ana)
    sweeping.sweep()
    assert woken == [(READ_TASK, True)] * sweeping.AT_ONCE


def test_a_third_attempt_that_never_ended_is_given_up(ana, woken):
    recording = waiting(ana, attempts=3)
    assert sweeping.sweep().given_up == 1
    recording.refresh_from_db()
    assert recording.state == Recording.State.REFUSED
    assert woken == []


def test_every_app_is_asked_to_look_for_its_own_work_and_one_that_fails_stops_nobody(ana, woken):
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
