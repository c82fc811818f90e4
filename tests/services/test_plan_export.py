import re
from datetime import date, timedelta

import pytest
from django.utils import timezone
from icalendar import Calendar

from tests.builders import MORNING, activity_of, athlete
from trainlog.models import Activity, PlannedSession
from trainlog.services.plan_export import plan_as_icalendar

pytestmark = pytest.mark.django_db

MONDAY = MORNING.date()


def planned(owner, **fields):
    values = {"day": MONDAY, "activity": activity_of(owner, "run")} | fields
    return PlannedSession.objects.create(owner=owner, **values)


def events(owner):
    return Calendar.from_ical(plan_as_icalendar(owner)).walk("VEVENT")


def test_a_session_is_an_all_day_event_that_says_what_is_meant(ana):
    planned(ana, minutes=60, hard=True, note="Six hills; easy, between.\nThen home")
    (event,) = events(ana)
    assert event["SUMMARY"] == "Run, 60 min, hard"
    assert event["DESCRIPTION"] == "Six hills; easy, between.\nThen home"
    assert event["CATEGORIES"].cats == ["steady endurance"]
    assert event["DTSTART"].dt == MONDAY
    assert event["DTSTART"].params["VALUE"] == "DATE"
    assert "DTEND" not in event


def test_what_is_not_said_of_a_session_is_left_out(ana):
    planned(ana)
    (event,) = events(ana)
    assert event["SUMMARY"] == "Run"
    assert "DESCRIPTION" not in event


def test_an_event_keeps_its_identifier_and_every_other_has_its_own(ana):
    first = planned(ana)
    planned(ana)
    before = {str(event["UID"]) for event in events(ana)}
    first.day = date(2026, 4, 1)
    first.save()
    assert {str(event["UID"]) for event in events(ana)} == before
    assert len(before) == 2


def test_logs_of_two_installations_do_not_share_identifiers(ana):
    planned(ana)
    (one,) = events(ana)
    ana.seed = 2
    (other,) = events(ana)
    assert one["UID"] != other["UID"]


def test_another_athletes_sessions_are_left_out(ana):
    planned(athlete("ben"))
    assert events(ana) == []


def test_the_object_holds_what_rfc_5545_requires(ana):
    """RFC 5545, 3.6: PRODID and VERSION once; 3.6.1: UID and DTSTAMP, in UTC, once, and DTSTART."""
    planned(ana)
    text = plan_as_icalendar(ana).decode()
    lines = text.split("\r\n")
    assert (lines[0], lines[-2], lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR", "")
    for name in ("PRODID", "VERSION", "UID", "DTSTAMP", "DTSTART"):
        assert sum(re.match(rf"{name}[:;]", line) is not None for line in lines) == 1
    assert "VERSION:2.0" in lines
    assert "DTSTART;VALUE=DATE:20260302" in lines
    (event,) = events(ana)
    assert event["DTSTAMP"].dt.utcoffset() == timedelta()
    assert timezone.now() - event["DTSTAMP"].dt < timedelta(minutes=5)


def test_lines_are_folded_after_75_octets_and_end_in_crlf(ana):
    """RFC 5545, 3.1, octets and not characters, with no character cut in two."""
    activity = Activity.objects.create(owner=ana, slug="long", name="übungen " * 7, family="other")
    planned(ana, activity=activity, note="Fünf Hügel — " * 30)
    content = plan_as_icalendar(ana)
    assert content.count(b"\n") == content.count(b"\r\n") == content.count(b"\r")
    assert max(len(line) for line in content.split(b"\r\n")) <= 75
    assert all(line.decode() is not None for line in content.split(b"\r\n"))
    (event,) = events(ana)
    assert event["DESCRIPTION"] == "Fünf Hügel — " * 30


def test_separators_in_texts_are_escaped(ana):
    """RFC 5545, 3.3.11: backslash, semicolon, comma and line break."""
    planned(ana, minutes=60, note="a\\b; c, d\ne")
    content = plan_as_icalendar(ana).decode()
    assert "SUMMARY:Run\\, 60 min\r\n" in content
    assert "DESCRIPTION:a\\\\b\\; c\\, d\\ne\r\n" in content


def test_an_empty_plan_is_still_a_calendar(ana):
    assert events(ana) == []
    assert plan_as_icalendar(ana).startswith(b"BEGIN:VCALENDAR\r\n")
