from datetime import UTC, datetime, timedelta

import pytest

from trainlog import regularly
from trainlog.celery import app
from trainlog.regularly import Regularly, Scheduler

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("last", "is_due", "then"),
    [
        (NOW - timedelta(seconds=5), False, 15),
        (NOW - timedelta(seconds=20), True, 20),
        (NOW + timedelta(seconds=1), True, 20),
        (NOW + timedelta(days=2), True, 20),
    ],
    ids=["before its time", "at its time", "clock set back a second", "clock set back two days"],
)
def test_a_sweep_is_due_every_twenty_seconds_also_after_the_clock_was_set_back(last, is_due, then):
    assert tuple(Regularly(20, nowfun=lambda: NOW, app=app).is_due(last)) == (is_due, then)


class Clock:
    """The time of day of a scheduler whose one task comes every twenty seconds."""

    def __init__(self, monkeypatch):
        self.now = NOW
        self.sent = []
        every = {"task": "a sweep", "schedule": Regularly(20, nowfun=lambda: self.now, app=app)}
        self.scheduler = Scheduler(app, schedule={}, lazy=True)
        self.scheduler.update_from_dict({"sweep": every})
        monkeypatch.setattr(self.scheduler, "apply_entry", lambda entry, **_: self.sent.append(self.now))
        monkeypatch.setattr(app, "now", lambda: self.now)
        monkeypatch.setattr(regularly, "time", self.timestamp)

    def timestamp(self):
        return self.now.timestamp()

    def goes(self, **step):
        self.now += timedelta(**step)
        while not self.scheduler.tick():
            pass


def test_a_scheduler_sends_every_twenty_seconds(monkeypatch):
    clock = Clock(monkeypatch)
    for _ in range(9):
        clock.goes(seconds=10)
    assert [(moment - NOW).total_seconds() for moment in clock.sent] == [20, 40, 60, 80]


def test_a_scheduler_goes_on_when_a_clock_that_was_ahead_is_set_right(monkeypatch):
    clock = Clock(monkeypatch)
    clock.goes(seconds=10)
    clock.goes(days=2)
    clock.goes(seconds=25)
    sent = len(clock.sent)
    clock.goes(days=-2)
    clock.goes(seconds=25)
    assert len(clock.sent) == sent + 2


def test_the_sweep_is_sent_by_this_scheduler():
    assert app.conf.beat_scheduler == f"{Scheduler.__module__}:{Scheduler.__name__}"
    assert isinstance(app.conf.beat_schedule["sweep"]["schedule"], Regularly)
