"""A plan and what came of it in words."""

from __future__ import annotations

from typing import Any

from trainlog.load.plan import AgainstRange, Open
from trainlog.web.words import load_figure

SELDOM = 5
"""Per cent: as few as the draws can tell; a side no likelier than this is not named."""


def planned_range(plan: Any) -> str:
    """A planned load as "between 300 and 400", "at least 300" or "at most 400"."""
    if plan.high is None:
        return f"at least {load_figure(plan.low)}"
    if plan.low is None:
        return f"at most {load_figure(plan.high)}"
    return f"between {load_figure(plan.low)} and {load_figure(plan.high)}"


def against_range(likely: AgainstRange) -> str:
    """Where a load likely lies: "70% likely within the range, 25% below it"."""
    sides = [(likely.within, "within"), (likely.below or 0, "below"), (likely.above or 0, "above")]
    (most, where), *others = sorted(sides, key=lambda side: -side[0])
    named = [f"{share}% {side} it" for share, side in others if share > SELDOM]
    return ", ".join([f"{most}% likely {where} the range", *named])


def missing(to_bound: Open) -> str:
    """Load that is missing up to a bound: "between 40 and 160 more"."""
    low, high = load_figure(to_bound.low), load_figure(to_bound.high)
    if round(to_bound.high) == 0:
        return "nothing more"
    if round(to_bound.low) == 0:
        return f"up to {high} more"
    return f"{high} more" if low == high else f"between {low} and {high} more"
