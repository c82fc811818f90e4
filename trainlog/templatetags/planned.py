"""Helpers of the templates that show a plan."""

from __future__ import annotations

from typing import Any

from django import template

from trainlog.services.plan_export import summary
from trainlog.web import plan_words

register = template.Library()

register.filter("planned_range", plan_words.planned_range)
register.filter("against_range", plan_words.against_range)
register.filter("missing", plan_words.missing)
register.filter("summary", summary)


@register.inclusion_tag("_plan_bar.html")
def plan_bar(plan: Any, load: Any, highest: float) -> dict[str, Any]:
    """Draw a planned range as a band, with the 80% interval of a load in front of it.

    Parameters
    ----------
    plan : WeekPlan
        With ``low``, ``high`` or both.
    load : SummedLoad or None
        Anything with ``low``, ``median`` and ``high``.
    highest : float
        Load at the right end.
    """

    def place(value: float) -> float:
        return round(100 * min(max(value / highest, 0.0), 1.0), 2)

    return {
        "from_edge": None if plan.low is None else place(plan.low),
        "to_edge": None if plan.high is None else place(plan.high),
        "left": place(plan.low or 0),
        "width": place(highest if plan.high is None else plan.high) - place(plan.low or 0),
        "load": load
        and {
            "left": place(load.low),
            "width": max(place(load.high) - place(load.low), 0.6),
            "median": place(load.median),
        },
    }
