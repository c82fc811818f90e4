"""A scheduler that goes on when the clock is set back.

Its library compares times of day: after the clock was ahead for a while and was set right, the next sweep
would have been due as much later.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from time import time
from typing import Any

from celery import beat
from celery.schedules import schedule


class Regularly(schedule):
    """Every so many seconds; at once where the last time lies in the future."""

    def remaining_estimate(self, last_run_at: datetime) -> timedelta:
        """How long until it is due.

        Parameters
        ----------
        last_run_at : datetime
            By the clock of that moment.
        """
        remaining: timedelta = super().remaining_estimate(last_run_at)
        return timedelta(0) if remaining > timedelta(seconds=self.seconds) else remaining


class Scheduler(beat.Scheduler):
    """Keeps its times in memory, where there is nothing to remember of what comes every few seconds."""

    _heap: list[beat.event_t] | None

    def tick(self, *args: Any, **options: Any) -> float:
        """Send what is due; seconds until something else is."""
        now = time()
        heap = self._heap or ()
        if any(event.time - now > event.entry.schedule.seconds for event in heap):  # type: ignore[union-attr]
            self._heap = None  # made anew, from what each entry says of itself
        seconds: float = super().tick(*args, **options)
        return seconds
