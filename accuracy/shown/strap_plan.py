"""What the page of the strap plan shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from accuracy import words
from accuracy.core.estimates.chance_days import chance_days
from accuracy.models import LearningState, PlannedStrap, StrapGain, StrapPlan
from accuracy.services.profiles import current_fit
from accuracy.services.strap_plan import current_plan, earlier_gains, planned_straps
from accuracy.services.wording import counted
from trainlog.models import Athlete, Physiology


@dataclass(frozen=True)
class MarginBar:
    """Margin of a week with the strap, and after one more pair, in per cent of the margin now."""

    worn: float
    after: float


@dataclass(frozen=True)
class PlanLine:
    """One sensor on one activity."""

    row: PlannedStrap

    @property
    def now(self) -> str:
        """Margin of a usual week."""
        return words.margin(self.row.plan.half_width)

    @property
    def after(self) -> str:
        """The same after one more pair, on average."""
        return words.margin(self.row.expected_half_width)

    @property
    def worn(self) -> str:
        """Margin of a week in which one such session wears the strap."""
        return words.margin(self.row.worn_half_width)

    @property
    def how_often(self) -> str:
        """How often it was worn without a strap: "4 in 8 weeks"."""
        weeks = self.row.plan.weeks
        return f"{round(self.row.sessions_a_week * weeks)} in {counted(weeks, 'week')}"

    @property
    def bar(self) -> MarginBar:
        """Margins as shares of that of a usual week now."""
        now = self.row.plan.half_width or 1.0
        return MarginBar(
            min(round(100 * self.row.worn_half_width / now, 1), 100.0),
            min(round(100 * self.row.expected_half_width / now, 1), 100.0),
        )

    @property
    def lasts(self) -> bool:
        """Whether one more pair narrows what is shown, for good."""
        return self.after != self.now

    @property
    def narrows(self) -> bool:
        """Whether the strap narrows what is shown, for good or for its week."""
        return self.lasts or self.worn != self.now


@dataclass(frozen=True)
class GainLine:
    """What one planned strap session brought."""

    row: StrapGain

    @property
    def before(self) -> str:
        """Margin of the same weeks before."""
        return words.margin(self.row.expected_from)

    @property
    def expected(self) -> str:
        """What it was expected to become."""
        return words.margin(self.row.expected_to)

    @property
    def came(self) -> str:
        """What it became."""
        return words.margin(self.row.came_to)

    @property
    def others(self) -> int:
        """Further pairs that were learned at the same time."""
        return self.row.pairs - 1


def strap_plan_page(athlete: Athlete) -> dict[str, Any]:
    """Everything on the page.

    Parameters
    ----------
    athlete : Athlete
    """
    plan = current_plan(athlete)
    lines = [PlanLine(row) for row in planned_straps(plan)] if plan else []
    return {
        "plan": plan,
        "margin": words.margin(plan.half_width) if plan else "",
        "lines": lines,
        "narrowing": [line for line in lines if line.narrows],
        "others": [line for line in lines if not line.narrows],
        "nothing_planned": "" if lines else _why_nothing(athlete, plan),
        "days": chance_days(athlete.seed, athlete.today()) if lines else [],
        "gains": [GainLine(row) for row in earlier_gains(athlete)],
        "learning": LearningState.objects.of(athlete).first(),
    }


def _why_nothing(athlete: Athlete, plan: StrapPlan | None) -> str:
    if plan is None:
        if not Physiology.objects.of(athlete).exists():
            return "No load can be told yet: that takes your resting and maximum heart rate."
        if current_fit(athlete) is None:
            return "Nothing is learned yet. The plan comes with the first learning, after the first files."
        return "The plan comes with the next learning, after the next file or change of the log."
    if plan.measured_parts == plan.parts:
        return (
            f"Everything in the {plan.weeks} weeks up to {_day(plan)} was measured by a strap, so there is "
            "nothing that one more pair could narrow."
        )
    return (
        f"No session in the {plan.weeks} weeks up to {_day(plan)} was recorded by a wrist sensor alone, so "
        "there is nothing that one more pair could narrow."
    )


def _day(plan: StrapPlan) -> str:
    return f"{plan.last_day.day} {plan.last_day:%B %Y}"
