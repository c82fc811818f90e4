"""No name, day, time or place leaves the log in an anonymised report."""

import calendar
import dataclasses
import json
import re
from collections.abc import Mapping
from datetime import date, timedelta

import pytest

from accuracy.models import Pair
from accuracy.report.collect import collect
from accuracy.report.gather import gather
from accuracy.report.naming import letter_of
from tests.accuracy.pair_builders import athlete_with_physiology, kept_pair
from tests.builders import MORNING, athlete
from tests.full_log import full_log
from trainlog.models import Activity, Athlete, Sensor
from trainlog.services.sensors import note_firmware

pytestmark = pytest.mark.django_db

MARK = "Zyxquill"

MONTHS = "|".join(name for name in (*calendar.month_name, *calendar.month_abbr) if name)
WHEN = re.compile(
    rf"\b(19|20)\d\d-\d\d(-\d\d)?\b|\b\d\d?\.\s?\d\d?\.\s?(19|20)\d\d\b|\b\d\d?/\d\d?/(19|20)?\d\d\b"
    rf"|\b\d\d?(st|nd|rd|th)? ({MONTHS})\b|\b({MONTHS}) \d|\bT\d\d:\d\d|\b202[3-9]\b|[+-]\d\d:\d\d\b",
    re.IGNORECASE,
)
WHERE = re.compile(r"\b(Europe|America|Asia|Africa|Australia|Pacific|Atlantic)/\w+|\bUTC\b|\bGMT\b")

PUBLISHED = {"references", "colophon"}
"""Fields of a document that speak of publications and of the program."""


def strings(value):
    """Every text in a document, keys of mappings among them."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, date):
        yield value.isoformat()
    elif dataclasses.is_dataclass(value):
        for one in dataclasses.fields(value):
            yield from strings(getattr(value, one.name))
    elif isinstance(value, Mapping):
        for key, one in value.items():
            yield from strings(key)
            yield from strings(one)
    elif isinstance(value, (list, tuple)):
        for one in value:
            yield from strings(one)


def of(document):
    """Every text that the log can have put into it: what cites publications is the program's own."""
    for one in dataclasses.fields(document):
        if one.name not in PUBLISHED:
            yield from strings(getattr(document, one.name))


@pytest.fixture(scope="module")
def marked_log(rows_of_the_module):
    """Key of whose log has a mark in every text, with further pairs: of another sensor, and set aside."""
    owner = full_log("Ana", MARK)
    owner.time_zone = "Europe/Lisbon"
    owner.save()
    for day in (1, 2, 9):
        pair = kept_pair(owner, day=day, flags=[[5, 70, f"{MARK}flag"], [80, 90, "spike"]])
        pair.remarks = [f"{MARK}remark"]
        pair.usable = day != 9
        pair.save()
    pair.part.activity = Activity.objects.of(owner).get(name=f"{MARK}walk")
    pair.part.save()
    pair = kept_pair(owner, day=3)
    pair.part.activity = Activity.objects.of(owner).get(name=f"{MARK}walk")
    pair.part.save()
    return owner.pk


@pytest.fixture
def marked(marked_log):
    return Athlete.objects.get(pk=marked_log)


def wrists(owner):
    return [sensor for sensor in Sensor.objects.of(owner) if not sensor.is_reference]


def sections(document):
    todo = list(document.sections)
    while todo:
        one = todo.pop(0)
        yield one
        todo = [*one.sections, *todo]


def test_the_log_is_full_of_marks_and_days_that_a_named_report_tells(marked):
    told = " ".join(of(gather(marked, wrists(marked), anonymised=False)))
    assert f"{MARK}wrist" in told
    assert f"{MARK}strap" in told
    assert f"{MARK}walk" in told
    assert WHEN.search(told)


def test_nothing_of_it_is_left_in_an_anonymised_one(marked):
    document = gather(marked, wrists(marked), anonymised=True)
    texts = list(of(document))
    assert len(texts) > 500
    assert [text for text in texts if MARK.lower() in text.lower()] == []
    assert [text for text in texts if WHEN.search(text) or WHERE.search(text)] == []
    assert MARK.lower() not in " ".join([*document.references, document.colophon]).lower()


def test_no_specification_holds_a_day_as_a_number_or_a_time_axis(marked):
    document = gather(marked, wrists(marked), anonymised=True)
    specs = json.dumps([figure.spec for one in sections(document) for figure in one.figures])
    assert "temporal" not in specs
    assert str(MORNING.year) not in specs.replace("vega-lite", "")


def test_it_does_not_say_when_it_was_made(marked):
    assert gather(marked, wrists(marked), anonymised=True).made_on is None


def test_sensors_become_letters_and_the_reference_is_one(marked):
    document = gather(marked, wrists(marked), anonymised=True)
    assert document.title == "Sensor A against a chest strap"
    table = next(t for one in sections(document) for t in one.tables if t.name == "sensors")
    assert [row[0] for row in table.rows] == ["Sensor A", "Reference"]


def test_after_z_come_two_letters():
    assert [letter_of(place) for place in (0, 25, 26, 52)] == ["A", "Z", "AA", "BA"]


def test_activities_of_the_athletes_own_become_their_family_and_others_keep_their_names(marked):
    document = gather(marked, wrists(marked), anonymised=True)
    table = next(t for one in sections(document) for t in one.tables if t.name == "by_activity")
    assert {row[0] for row in table.rows} == {"steady endurance 1", "run", "other"}


def test_an_activity_renamed_is_no_longer_one_that_every_log_has():
    owner = athlete_with_physiology(athlete())
    kept_pair(owner)
    Activity.objects.of(owner).filter(slug="run").update(name="Round the old mill")
    told = " ".join(of(gather(owner, wrists(owner), anonymised=True)))
    assert "old mill" not in told
    assert "steady endurance 1" in told


@pytest.mark.parametrize(
    ("version", "told"),
    [("3.0", "3.0"), ("2.1 of Ana", "2.1"), ("2026.03.02", None), ("02.03.26", None), ("summer", None)],
)
def test_of_a_firmware_version_only_its_numbers_are_told(version, told):
    owner = athlete_with_physiology(athlete())
    pair = kept_pair(owner)
    note_firmware(pair.tested.sensor, version, MORNING.date() - timedelta(days=1))
    found = collect(owner, wrists(owner), anonymised=True)
    assert [part.firmware for part in found.sensors[0].parts] == [told]


def test_a_named_report_and_an_anonymised_one_hold_the_same_figures(marked):
    def numbers(document):
        return [
            [cell for row in table.rows for cell in row if isinstance(cell, (int, float))]
            for one in sections(document)
            for table in one.tables
        ]

    named, anonymised = (gather(marked, wrists(marked), anonymised=hidden) for hidden in (False, True))
    assert numbers(named) == numbers(anonymised)


def test_another_logs_pairs_are_not_in_it(marked):
    other = athlete("ben")
    kept_pair(other)
    assert Pair.objects.count() > Pair.objects.of(marked).count()
    found = collect(marked, Sensor.objects.filter(owner=other), anonymised=True)
    assert [one.sessions for one in found.sensors] == [[], []]
