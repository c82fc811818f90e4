"""Strap days drawn by chance.

Days picked for their expected trouble are unlike the others, and what their pairs teach may not hold for the
others. Days drawn before anything is known of them cannot be.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from trainlog.load.draws import athlete_seed, stratified_uniforms

DAYS_A_WEEK = 2
"""Days drawn in a week (common practice, no source)."""


def chance_days(seed: int, today: date) -> list[date]:
    """Days of the coming seven that chance picked, today among them; never none.

    The days of a calendar week are drawn once: asking on another day, or after a change of the log, moves
    nothing.

    Parameters
    ----------
    seed : int
        The athlete's seed.
    today : date

    Returns
    -------
    list of date
        In order. Where this week's are over and next week's lie beyond seven days, the first of them.
    """
    monday = today - timedelta(days=today.weekday())
    ahead = [day for week in (0, 7) for day in _of_week(seed, monday + timedelta(days=week)) if day >= today]
    return [day for day in ahead if day < today + timedelta(days=7)] or ahead[:1]


def _of_week(seed: int, monday: date) -> list[date]:
    year, week, _ = monday.isocalendar()
    order = np.argsort(stratified_uniforms(athlete_seed(seed, f"strap days/{year}-{week}"), count=7))
    return [monday + timedelta(days=int(day)) for day in sorted(order[:DAYS_A_WEEK])]
