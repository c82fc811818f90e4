"""In which measure loads are shown."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from trainlog.models import Measure
from trainlog.services.trend_settings import set_measure
from trainlog.web.page import accept_or_explain, athlete_of, show
from trainlog.web.seen import SeenMixin, one_at_a_time

EXPLAINED = {
    Measure.TRIMP: "Minutes times heart-rate reserve, weighted so that hard minutes count for more. Needs "
    "resting and maximum heart rate.",
    Measure.ZONES: "Minutes times 1 to 5, by tenths of maximum heart rate from 50% up. Needs the maximum.",
    Measure.THREE_ZONES: "Minutes times 1, 2 or 3: below the first threshold, between the two, above the "
    "second. Needs both thresholds; where none are entered, shares of the maximum stand in.",
    Measure.SESSION_RPE: "Your rating from 0 to 10 times minutes. Needs ratings; the load of an unrated "
    "session is drawn, with a wide margin.",
}


class MeasureForm(SeenMixin, forms.Form):
    """One of the measures."""

    measure = forms.ChoiceField(label="Measure", choices=Measure, widget=forms.RadioSelect)

    @property
    def explained(self) -> list[tuple[Any, str]]:
        """Each choice with what it is and what it needs."""
        return list(zip(self["measure"], EXPLAINED.values(), strict=True))


@require_http_methods(["GET", "POST"])
@one_at_a_time
def measure(request: HttpRequest) -> HttpResponse:
    """Choose the measure in which loads are shown."""
    athlete = athlete_of(request)
    form = MeasureForm(
        request.POST if request.method == "POST" else None, initial={"measure": athlete.measure}
    )
    if form.is_bound and accept_or_explain(form, lambda: set_measure(athlete, form.cleaned_data["measure"])):
        chosen = Measure(athlete.measure).label
        messages.success(request, f"Saved. Loads are shown in {chosen}.")
        return redirect("account")
    return show(request, "measure.html", {"measure_form": form}, status=form.status)
