"""A schedule that goes on when the clock is set back."""

from __future__ import annotations

from datetime import datetime, timedelta

from celery.schedules import schedule


class Regularly(schedule):
    """Every so many seconds, also after the clock was ahead for a while.

    A last time that lies in the future would else hold up the next until the clock has come by it once more.
    """

    def remaining_estimate(self, last_run_at: datetime) -> timedelta:
        """How long until it is due; at once where the last time is later than now.

        Parameters
        ----------
        last_run_at : datetime
            By the clock of that moment.
        """
        remaining: timedelta = super().remaining_estimate(last_run_at)
        return timedelta(0) if remaining > timedelta(seconds=self.seconds) else remaining
