"""What is shown of each day of a trend: figures with their 80% intervals."""

from __future__ import annotations

import numpy as np

from trainlog.load.impulse_response import net_response
from trainlog.load.monotony import monotony
from trainlog.load.trend import Trend, TrendDays, ratio, rolling_mean
from trainlog.trace import FloatArray

FIGURES = (
    "load",
    "week",
    "acute",
    "chronic",
    "slow",
    "fast",
    "net_response",
    "monotony",
    "strain",
    "ratio",
    "acute_window",
    "chronic_window",
)
"""Load of the day; load since Monday, the day counted; acute and chronic load; slow and fast response and
their weighted difference; monotony and strain of the seven days that end with the day; acute over chronic;
plain means of as many days as the acute and the chronic average have."""

WEEK_DAYS = 7

USUAL_SPANS = TrendDays()

QUANTILES = (0.1, 0.5, 0.9)
"""Low, median and high: the 80% interval."""


def days_needed(spans: TrendDays) -> int:
    """Days that the figures of one day are made from beside the averages and responses, the day counted."""
    return max(WEEK_DAYS, round(spans.acute), round(spans.chronic))


def week_figures(daily: FloatArray, course: Trend, spans: TrendDays = USUAL_SPANS) -> FloatArray:
    """Figures of the days of one week.

    Parameters
    ----------
    daily : array, shape (days before + days, DRAWS)
        Load of each day of the week, and before them of as many of ``days_needed`` less one as the log has.
    course : Trend
        Averages and responses of the days of the week, Monday first or, in the log's first week, the
        log's first day first.
    spans : TrendDays
        Of the same averages and responses.

    Returns
    -------
    array, shape (days, figures, 3)
        Low, median and high of each of ``FIGURES``. NaN where a figure is not defined in every draw:
        monotony and strain before seven days are there or in seven equal days, the ratio without chronic
        load, a plain mean before as many days are there.
    """
    days = len(course.acute)
    before = len(daily) - days
    values = np.empty((days, len(FIGURES), daily.shape[1]))
    this_week = daily[before:]
    values[:, 0] = this_week
    values[:, 1] = np.cumsum(this_week, axis=0)
    for place, name in enumerate(("acute", "chronic", "slow", "fast"), start=2):
        values[:, place] = getattr(course, name)
    values[:, 6] = net_response(course.slow, course.fast)
    for day in range(days):
        seven = daily[max(before + day + 1 - WEEK_DAYS, 0) : before + day + 1]
        values[day, 7] = monotony(seven) if len(seven) == WEEK_DAYS else np.nan
        values[day, 8] = values[day, 7] * seven.sum(axis=0)
    values[:, 9] = ratio(course.acute, course.chronic)
    for place, length in enumerate((spans.acute, spans.chronic), start=10):
        values[:, place] = rolling_mean(daily, round(length))[before:]
    # A figure with an undefined draw comes out as NaN: the rest of its draws would not be equally likely.
    return np.moveaxis(np.quantile(values, QUANTILES, axis=-1), 0, -1)
