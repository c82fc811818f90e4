"""Every address of the site and every operation of the API, asked by another athlete and by nobody.

The addresses come from the resolver: a new one is walked by itself, or the walk says what to add to ``ROWS``.
"""

# mypy: disable-error-code="union-attr"

import re
from itertools import product

import numpy as np
import pytest
from django.apps import apps
from django.conf import settings as site
from django.db import models, transaction
from django.test import Client
from django.urls import URLPattern, get_resolver

from accuracy.core.agreement.pair_agreement import agree
from accuracy.models import (
    Advice,
    ErrorProfile,
    Fit,
    LearningState,
    Pair,
    PartEvidence,
    PlannedStrap,
    StrapGain,
    StrapPlan,
    Stretch,
)
from tests.builders import MORNING, activity_of, athlete, csv_file, estimate, imported, sensor, strap
from trainlog import models as log
from trainlog import trace_blob
from trainlog.api import api
from trainlog.services.edit_workout import set_note
from trainlog.services.sensors import note_firmware

pytestmark = pytest.mark.django_db

SECRET = "zebrafinch"
"""In every text of the owner's log, and nowhere else."""

OPEN = {"sign-in", "health", "api/"}
"""Addresses that nobody needs to sign in for; they show nothing of anyone's."""

OWNERLESS = {log.Athlete, log.SweepRun}
"""The athlete is the owner; the sweep's one row is the installation's."""

ROWS = {
    # What stands before a parameter in an address: the owner's row that it names.
    "files": lambda owner: log.Recording.objects.of(owner).filter(state="read").first(),
    "workouts": lambda owner: log.Workout.objects.of(owner).first(),
    "parts": lambda owner: log.Part.objects.of(owner).first(),
    "pairs": lambda owner: Pair.objects.of(owner).first(),
    "sensors": lambda owner: log.Sensor.objects.of(owner).get(name__endswith="wrist"),
    "activities": lambda owner: log.Activity.objects.of(owner).get(slug__endswith="walk"),
}
DAYS = {"week", "weeks", "check-ins"}
"""What stands before a parameter that is a day, and so belongs to nobody."""

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
HTMX = {"HX-Request": "true"}


def addresses(patterns=None, before=""):
    """Every address that the resolver knows, as written in the lists of addresses."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLPattern):
            yield route
        else:
            yield from addresses(pattern.url_patterns, route)


ADDRESSES = sorted(set(addresses()))
PARAMETER = re.compile(r"(?P<segment>[\w-]+)/<(?:\w+:)?\w+>")


def rows_named(address):
    """What stands before each parameter of the address that names a row."""
    return [match["segment"] for match in PARAMETER.finditer(address) if match["segment"] not in DAYS]


def filled(address, owners):
    """The address with a row of each of the owners in turn in its parameters."""
    next_owner = iter(owners)

    def value(match):
        segment = match["segment"]
        if segment in DAYS:
            return f"{segment}/{MORNING.date().isoformat()}"
        if segment not in ROWS:
            pytest.fail(f"“{address}” names a row: add “{segment}” to ROWS in tests/test_ownership.py")
        return f"{segment}/{ROWS[segment](next(next_owner)).pk}"

    path = PARAMETER.sub(value, address)
    if re.search(r"[<>^$\\]", path):
        pytest.fail(f"“{address}” has a parameter that tests/test_ownership.py cannot fill")
    return "/" + path


def own_log(name, mark):
    """A log in which every kind of row has a row, every text the mark."""
    owner = athlete(f"{mark}{name}")
    log.Activity.objects.of(owner).filter(slug="walk").update(slug=f"{mark}walk", name=f"{mark}walk")
    log.Physiology.objects.create(owner=owner, from_day=MORNING.date(), resting_rate=50, maximum_rate=190)
    worn = sensor(owner, f"{mark}wrist", source_key=f"csv:{mark}wrist")
    strap(owner, f"{mark}strap", source_key=f"csv:{mark}strap")
    note_firmware(worn, f"{mark}2.1", MORNING.date())
    log.CheckIn.objects.create(owner=owner, day=MORNING.date(), note=f"{mark}note")
    log.TextLayout.objects.create(owner=owner, key="header", columns={"time": f"{mark}clock"})
    sports = (f"{mark}walk",)
    tested = imported(owner, csv_file(bpm=130, device=f"{mark}wrist", sports=sports), f"{mark}w.csv")
    reference = imported(owner, csv_file(bpm=140, device=f"{mark}strap", sports=sports), f"{mark}s.csv")
    imported(owner, f"{mark} is no recording".encode(), f"{mark}x.csv")
    part = tested.workout.parts.get()
    set_note(part.workout, f"{mark}note")
    nothing = np.zeros(256, "<f4").tobytes()
    fit = Fit.objects.create(
        owner=owner,
        inputs_hash="a" * 64,
        method_version=1,
        pair_count=1,
        **{
            field.name: b""
            for field in Fit._meta.fields
            if isinstance(field, models.BinaryField) and not field.null
        },
    )
    owner.current_source = fit.source
    owner.save()
    part.owner = owner
    estimate(part, 40, reason=f"{mark}reason")
    ErrorProfile.objects.create(
        owner=owner,
        fit=fit,
        sensor=worn,
        activity=activity_of(owner, f"{mark}walk"),
        pair_count=1,
        ratio=1.1,
        ratio_low=1.0,
        ratio_high=1.2,
        within_ten=0.8,
        raw_within_ten=0.3,
        advice=Advice.STRAP_ADVISED,
        reason=f"{mark}reason",
    )
    plan = StrapPlan.objects.create(
        owner=owner, fit=fit, last_day=MORNING.date(), weeks=1, parts=1, measured_parts=0, half_width=0.1
    )
    cell = {"owner": owner, "sensor": worn, "activity": activity_of(owner, f"{mark}walk")}
    PlannedStrap.objects.create(
        plan=plan, sessions_a_week=1, expected_half_width=0.05, worn_half_width=0.04, rank=1, **cell
    )
    StrapGain.objects.create(
        day=MORNING.date(), pairs=1, expected_from=0.2, expected_to=0.1, came_to=0.1, **cell
    )
    Pair.objects.create(
        owner=owner,
        part=part,
        reference=reference,
        tested=tested,
        usable=True,
        remarks=[f"{mark}remark"],
        shift=0,
        shift_ambiguous=False,
        common_seconds=600,
        agreement=agree(reference.trace().heart_rate, tested.trace().heart_rate).as_dict(),
        reference_histogram=nothing,
        tested_histogram=nothing,
        reference_trace=trace_blob.pack(reference.trace()),
        tested_trace=trace_blob.pack(tested.trace()),
    )
    Stretch.objects.create(
        owner=owner,
        part=part,
        recording=tested,
        seconds=600,
        valid_seconds=600,
        histogram=nothing,
        flags=[[0, 60, f"{mark}flag"]],
    )
    PartEvidence.objects.create(owner=owner, part=part, input_revision=1, method_version=1)
    LearningState.objects.create(owner=owner, failure=f"{mark}failure")
    return owner


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA_FOLDER = tmp_path
    return tmp_path


@pytest.fixture
def ana():
    """Whose log it is."""
    return own_log("ana", SECRET)


@pytest.fixture
def ben():
    """Someone else."""
    return own_log("ben", "plain")


def fields_naming_rows_of(owner):
    """Enough for any form of the site, and every choice in it a row of the owner's."""
    named = {
        "sensor": ROWS["sensors"](owner).pk,
        "activity": ROWS["activities"](owner).pk,
        "recording": ROWS["files"](owner).pk,
        "workout": ROWS["workouts"](owner).pk,
        "part": ROWS["parts"](owner).pk,
        "row": log.Physiology.objects.of(owner).get().pk,
    }
    plain = {
        "from": MORNING.date().isoformat(),
        "to": MORNING.date().isoformat(),
        "name": "new one",
        "site": "wrist",
        "principle": "optical",
        "version": "3",
        "from_day": "2026-03-05",
        "day": MORNING.date().isoformat(),
        "time": "10:00",
        "minutes": "5",
        "session_rpe": "5",
        "note": "new note",
        "resting_rate": "51",
        "resting_error": "3",
        "maximum_rate": "191",
        "maximum_source": "measured",
        "maximum_error": "3",
        "weighting": "men",
        "time_zone": "UTC",
    }
    return plain | named


def ask(user, method, path, fields, headers):
    """Answer to a request, whose changes are taken back."""
    client = Client(headers=headers)
    if user is not None:
        client.force_login(user)
    with transaction.atomic():
        if path.startswith("/api/") and method != "GET":
            answer = client.generic(method, path, "{}", content_type="application/json")
        elif method in {"GET", "POST"}:
            answer = getattr(client, method.lower())(path, fields)
        else:
            answer = client.generic(method, path)
        after = state()
        transaction.set_rollback(True)
    content = answer.getvalue()
    return answer, content.decode(errors="replace"), after


def owned_models():
    return [
        model
        for label in ("trainlog", "accuracy")
        for model in apps.get_app_config(label).get_models()
        if model not in OWNERLESS
    ]


def state():
    """Every owned row of the installation, by model and key."""
    return {model: {row["id"]: row for row in model.objects.values()} for model in owned_models()}


def rows_of(owner, everything):
    return {
        model: {pk: row for pk, row in rows.items() if row["owner_id"] == owner.pk}
        for model, rows in everything.items()
    }


def links_across(everything):
    """Rows that point at a row of another owner."""
    for model, rows in everything.items():
        for field in model._meta.fields:
            target = field.related_model
            if not field.is_relation or target not in everything:
                continue
            for row in rows.values():
                to = everything[target].get(row[field.attname])
                if to is not None and to["owner_id"] != row["owner_id"]:
                    yield f"{model.__name__}.{field.name}"


def every_request(*owners_of_rows, fields):
    """Address, request in words, and what ``ask`` takes, of everything that can be asked.

    An address that names several rows is asked with every combination of the owners.
    """
    for address in ADDRESSES:
        for owners in product(owners_of_rows, repeat=len(rows_named(address))):
            path = filled(address, owners)
            for method in METHODS:
                yield address, owners, f"{method} {path}", (method, path, fields, {})
                if method in {"GET", "POST"} and not address.startswith("api/"):
                    yield address, owners, f"{method} {path} by htmx", (method, path, fields, HTMX)


@pytest.mark.parametrize("model", owned_models(), ids=lambda model: model.__name__)
def test_every_row_has_an_owner(model):
    owner = model._meta.get_field("owner")
    assert owner.related_model is log.Athlete
    assert not owner.null


def test_the_owners_log_has_a_row_of_every_kind(ana):
    assert [model.__name__ for model, rows in rows_of(ana, state()).items() if not rows] == []


def test_the_owner_reaches_every_address_that_others_are_kept_from(ana):
    reached = set()
    for address, _, _, request in every_request(ana, fields={}):
        answer, _, _ = ask(ana.user, *request)
        if answer.status_code not in {404, 405}:
            reached.add(address)
    assert set(ADDRESSES) - reached == {"api/"}


def test_the_owner_sees_what_the_others_must_not(ana):
    seen = {
        address
        for address, _, _, request in every_request(ana, fields=fields_naming_rows_of(ana))
        if request[0] == "GET" and SECRET in ask(ana.user, *request)[1]
    }
    pages = {"", "week/<isodate:day>", "sensors/", "workouts/<int:pk>", "files/<int:pk>/original"}
    cell = "sensors/<int:sensor_pk>/activities/<int:activity_pk>"
    pages |= {cell, f"{cell}/agreement.csv", f"{cell}/agreement.json"}
    pages |= {f"sensors/pairs/<int:pk>{end}" for end in ("", "/pair.csv", "/pair.json")}
    pages |= {"strap-plan", "check-in", "api/pairs/<id>", "api/check-ins/<day>"}
    listed = ("workouts", "estimates", "profiles", "pairs", "strap-plan", "check-ins")
    assert pages | {f"api/{name}" for name in listed} <= seen


def test_another_athletes_rows_are_not_found(ana, ben):
    wrong = []
    answered: dict[str, set[int]] = {}
    before = state()
    everything = every_request(ana, ben, fields=fields_naming_rows_of(ana))
    for address, owners, request_in_words, request in everything:
        if ana not in owners:
            continue
        answer, content, after = ask(ben.user, *request)
        answered.setdefault(address, set()).add(answer.status_code)
        if answer.status_code not in {404, 405} or SECRET in content or after != before:
            wrong.append(f"{request_in_words}: {answer.status_code}")
    assert wrong == []
    assert [address for address, codes in answered.items() if 404 not in codes] == []


def test_another_athletes_log_is_neither_shown_nor_changed_nor_linked_to(ana, ben):
    wrong = []
    before = rows_of(ana, state())
    for _, _, request_in_words, request in every_request(ben, fields=fields_naming_rows_of(ana)):
        answer, content, after = ask(ben.user, *request)
        if answer.status_code >= 500:
            wrong.append(f"{request_in_words}: {answer.status_code}")
        if SECRET in content or SECRET in str(answer.headers):
            wrong.append(f"{request_in_words} shows the other's log")
        if rows_of(ana, after) != before:
            wrong.append(f"{request_in_words} changes the other's log")
        wrong.extend(f"{request_in_words} links {link}" for link in links_across(after))
    assert wrong == []


def test_nobody_is_asked_to_sign_in_everywhere(ana):
    wrong = []
    asked: dict[str, set[int]] = {}
    before = state()
    for address, _, request_in_words, request in every_request(ana, fields=fields_naming_rows_of(ana)):
        answer, content, after = ask(None, *request)
        if SECRET in content or after != before:
            wrong.append(f"{request_in_words} shows or changes a log")
        if address in OPEN:
            continue
        asked.setdefault(address, set()).add(answer.status_code)
        to_sign_in = answer.status_code == 302 and answer["Location"].startswith("/sign-in")
        if not to_sign_in and answer.status_code not in {401, 405}:
            wrong.append(f"{request_in_words}: {answer.status_code}")
    assert wrong == []
    assert [address for address, codes in asked.items() if codes <= {405}] == []


def test_every_operation_of_the_api_is_among_the_walked_addresses():
    walked = {"/" + re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", address) for address in ADDRESSES}
    assert set(api.get_openapi_schema()["paths"]) <= walked
    methods = {method.upper() for path in api.get_openapi_schema()["paths"].values() for method in path}
    assert methods <= set(METHODS)


def test_signing_in_is_asked_for_by_the_site_and_not_by_each_page():
    assert "trainlog.web.middleware.SignedInMiddleware" in site.MIDDLEWARE
