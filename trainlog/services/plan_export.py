"""The planned sessions as an iCalendar object (RFC 5545), for any calendar."""

from __future__ import annotations

import uuid

from django.utils import timezone
from icalendar import Calendar, Event

from trainlog.models import Athlete, Family, PlannedSession

PRODUCT = "-//Training log//Plan//EN"

NAMESPACE = uuid.UUID("5f2a2c0e-7f0d-4f5e-9d0b-3f0c7f1f6a41")
"""Drawn once for all planned sessions of all installations."""


def plan_as_icalendar(athlete: Athlete) -> bytes:
    """Every planned session as an all-day event, with the line ends and folding that RFC 5545 asks for.

    A session has a day and no hour, so its length stands in the summary; the event takes no time away from
    others. Its identifier is made from the log's own seed and the row, and so is the same in every export and
    another in every log: a calendar that takes the file again renews its events instead of doubling them.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    made_at = timezone.now()
    for session in PlannedSession.objects.of(athlete).select_related("activity"):
        event = Event()
        event.add("uid", str(uuid.uuid5(NAMESPACE, f"{athlete.seed}/{session.pk}")))
        event.add("dtstamp", made_at)
        event.add("dtstart", session.day)
        event.add("summary", summary(session))
        if session.note:
            event.add("description", session.note)
        event.add("categories", [Family(session.activity.family).label])
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return calendar.to_ical()


def summary(session: PlannedSession) -> str:
    """A planned session in a few words: "Run, 60 min, hard"."""
    name = session.activity.name
    words = [name[:1].upper() + name[1:]]
    if session.minutes is not None:
        words.append(f"{session.minutes} min")
    if session.hard:
        words.append("hard")
    return ", ".join(words)
