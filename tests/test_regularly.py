from datetime import UTC, datetime, timedelta

import pytest

from trainlog.celery import app
from trainlog.regularly import Regularly

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


def test_the_sweep_goes_by_a_schedule_that_outlives_a_clock_set_back():
    assert isinstance(app.conf.beat_schedule["sweep"]["schedule"], Regularly)
