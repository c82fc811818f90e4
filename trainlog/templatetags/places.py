"""Which page of the navigation the page that is shown belongs to."""

from __future__ import annotations

from typing import Any

from django import template
from django.template import Context

register = template.Library()

PAGES = {
    "log": (
        "log",
        "Log",
        "workout typed_workout delete_workout add_files progress deleted put_back delete_for_good",
    ),
    "check_in": ("check_in", "Morning", "delete_check_in recovery claimed_recoveries"),
    "week": ("this_week", "Week", "this_week week_plan new_session planned_session"),
    "trend": ("trend", "Trend", "trend_spans"),
    "calendar": ("this_month", "Calendar", "this_month years"),
    "sensors": (
        "sensors",
        "Sensors",
        "profile pair first_pair part_findings strap_plan compare_sensors new_sensor edit_sensor "
        "sensor_firmware maximum_offer reports",
    ),
    "method": ("method", "Method", ""),
    "account": (
        "account",
        "Account",
        "physiology choose_measure new_activity new_stay stay settings password privacy activities programs "
        "take import_all delete_everything stays care demo",
    ),
}
"""Pages of the navigation in order: address, words, and the names of what belongs to each beside itself."""

PLACES = {name: page for page, (_, _, others) in PAGES.items() for name in (page, *others.split())}


@register.inclusion_tag("_navigation.html", takes_context=True)
def navigation(context: Context) -> dict[str, Any]:
    """List the pages, and mark the one to which the page that is shown belongs."""
    match = context["request"].resolver_match
    here = PLACES.get(match.url_name or "") if match else None
    return {"pages": [(address, words, page == here) for page, (address, words, _) in PAGES.items()]}
