"""Recovery: of now, of the last sessions, and as mornings showed it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django import forms
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from trainlog.models import ClaimedRecovery
from trainlog.services.care import heart_rate_may_mislead
from trainlog.services.recovery import recoveries_between, recovery_now, untold_lately
from trainlog.services.recovery_check import recovery_check
from trainlog.web.page import athlete_of, show
from trainlog.web.seen import SeenMixin

SHOWN_DAYS = 14
"""Days whose sessions are listed."""

CHECKED_ROWS = 10
"""Sessions held against mornings that are open at once."""


class ClaimForm(SeenMixin, forms.Form):
    """Hours that a device claimed; left empty, the note is taken back."""

    not_there = ("fed_by",)

    fed_by = forms.ChoiceField(choices=ClaimedRecovery.FedBy.choices, widget=forms.HiddenInput)
    hours = forms.FloatField(
        required=False,
        min_value=0,
        max_value=240,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
    )


@require_safe
def recovery(request: HttpRequest) -> HttpResponse:
    """Show what recent sessions leave until the next hard one, and how such estimates did."""
    athlete = athlete_of(request)
    if heart_rate_may_mislead(athlete):
        return show(request, "recovery.html")
    today = athlete.today()
    check = recovery_check(athlete, today)
    context = {
        "now": timezone.now(),
        "ready": recovery_now(athlete),
        "untold": untold_lately(athlete),
        "recoveries": recoveries_between(athlete, today - timedelta(days=SHOWN_DAYS), today)[::-1],
        "shown_days": SHOWN_DAYS,
        "checked": check.sessions[:CHECKED_ROWS],
        "counts": {fit: check.counts.get(fit, 0) for fit in ("earlier", "within", "later")},
        "checked_count": len(check.sessions),
    }
    return show(request, "recovery.html", context)


@dataclass(frozen=True)
class ClaimShown:
    """A field for the hours that a device claimed from one kind of heart rate."""

    fed_by: str
    label: str
    hours: float | None
    refused: ClaimForm | None

    @property
    def typed(self) -> str:
        """What stands in the field."""
        if self.refused:
            return str(self.refused.data.get("hours", ""))
        return "" if self.hours is None else f"{self.hours:g}"


def claims_shown(hours: dict[str, float], refused: ClaimForm | None = None) -> list[ClaimShown]:
    """Kinds of heart rate with their words and the hours claimed from each, or typed and not taken."""
    posted = refused.data.get("fed_by") if refused else None
    return [
        ClaimShown(kind.value, kind.label, hours.get(kind.value), refused if kind.value == posted else None)
        for kind in ClaimedRecovery.FedBy
    ]
