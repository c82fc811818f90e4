"""Every address of the site and every operation of the API, asked by another athlete and by nobody.

The addresses come from the resolver: a new one is walked by itself, or the walk says what to add to ``ROWS``
of ``tests.full_log``.
"""

# mypy: disable-error-code="union-attr"

import re
import time
from itertools import product

import pytest
from django.apps import apps
from django.conf import settings as site
from django.db import connection, transaction
from django.test import Client
from django.urls import URLPattern, get_resolver

from tests.builders import MORNING
from tests.full_log import DAYS, MONTHS, ROWS, fields_naming_rows_of, full_log
from trainlog import models as log
from trainlog.api.operations import api
from trainlog.services.tokens import make_token

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

SECRET = "zebrafinch"
"""In every text of the owner's log, and nowhere else."""

OPEN = {"sign-in", "health", "ready", "metrics", "api/v1/"}
"""Addresses that nobody needs to sign in for; they show nothing of anyone's."""

OWNERLESS = {log.Athlete, log.SweepRun}
"""The athlete is the owner; the sweep's one row is the installation's."""

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
HTMX = {"HX-Request": "true"}

READING = ("SELECT", "SAVEPOINT", "RELEASE", "ROLLBACK")
"""Statements that change no row."""


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
    return [
        match["segment"] for match in PARAMETER.finditer(address) if match["segment"] not in DAYS | MONTHS
    ]


def filled(address, owners):
    """The address with a row of each of the owners in turn in its parameters."""
    next_owner = iter(owners)

    def value(match):
        segment = match["segment"]
        if segment in DAYS:
            return f"{segment}/{MORNING.date().isoformat()}"
        if segment in MONTHS:
            return f"{segment}/{MORNING:%Y-%m}"
        if segment not in ROWS:
            pytest.fail(f"“{address}” names a row: add “{segment}” to ROWS in tests/full_log.py")
        return f"{segment}/{ROWS[segment](next(next_owner)).pk}"

    path = PARAMETER.sub(value, address)
    if re.search(r"[<>^$\\]", path):
        pytest.fail(f"“{address}” has a parameter that tests/test_ownership.py cannot fill")
    return "/" + path


@pytest.fixture(autouse=True)
def just_started(monkeypatch):
    """Health goes by the age of the web process; that of a long run of tests is not meant."""
    monkeypatch.setattr("trainlog.web.health._began", time.monotonic())


@pytest.fixture
def ana():
    """Whose log it is."""
    return full_log("ana", SECRET)


@pytest.fixture
def ben():
    """Someone else."""
    return full_log("ben", "plain")


def ask(user, method, path, fields, headers, *, before=None, token=None):
    """Answer to a request, whose changes are taken back; with what it shows, and the state it leaves.

    That is ``before``, the state it came to, where no statement of the request writes: to read every row
    after each of a thousand requests takes longer than the requests.
    """
    client = Client(headers=headers | ({"Authorization": f"Bearer {token}"} if token else {}))
    if user is not None:
        client.force_login(user)
    written = []

    def note(execute, sql, *others):
        if not sql.startswith(READING):
            written.append(sql)
        return execute(sql, *others)

    with transaction.atomic(), connection.execute_wrapper(note):
        if path.startswith("/api/") and method != "GET":
            answer = client.generic(method, path, "{}", content_type="application/json")
        elif method in {"GET", "POST"}:
            answer = getattr(client, method.lower())(path, fields)
        else:
            answer = client.generic(method, path)
        after = before if before is None or not written else state()
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
    assert set(ADDRESSES) - reached == {"api/v1/"}


def test_the_owner_sees_what_the_others_must_not(ana):
    seen = {
        address
        for fields in ({}, fields_naming_rows_of(ana))
        for address, _, _, request in every_request(ana, fields=fields)
        if request[0] == "GET" and SECRET in ask(ana.user, *request)[1]
    }
    pages = {"", "week/<isodate:day>", "sensors/", "workouts/<int:pk>", "files/<int:pk>/original"}
    cell = "sensors/<int:sensor_pk>/activities/<int:activity_pk>"
    pages |= {cell, f"{cell}/agreement.csv", f"{cell}/agreement.json"}
    pages |= {f"sensors/pairs/<int:pk>{end}" for end in ("", "/pair.csv", "/pair.json")}
    pages |= {"calendar/<isomonth:month>", "planned/<int:pk>", "plan.ics"}
    pages |= {"week/<isodate:day>/plan", "api/v1/weeks/<day>/plan"}
    pages |= {f"export/{table}.csv" for table in ("workouts", "check-ins", "sets")}
    pages |= {"sets/<int:pk>", "api/v1/parts/<id>/sets", "api/v1/sets/<id>"}
    pages |= {"deleted", "deleted/<int:pk>/delete", "api/v1/deleted", "api/v1/deleted/<id>"}
    pages |= {"strap-plan", "check-in", "sensors/reports", "api/v1/pairs/<id>", "api/v1/check-ins/<day>"}
    listed = {"workouts", "files", "files/<id>", "files/<id>/original", "planned-sessions/<id>"}
    listed |= {"workouts", "estimates", "profiles", "pairs", "strap-plan", "check-ins", "planned-sessions"}
    listed |= {"reports"}
    assert pages | {f"api/v1/{name}" for name in listed} <= seen


def test_another_athletes_rows_are_not_found(ana, ben):
    wrong = []
    answered: dict[str, set[int]] = {}
    before = state()
    everything = every_request(ana, ben, fields=fields_naming_rows_of(ana))
    for address, owners, request_in_words, request in everything:
        if ana not in owners:
            continue
        answer, content, after = ask(ben.user, *request, before=before)
        answered.setdefault(address, set()).add(answer.status_code)
        if answer.status_code not in {404, 405} or SECRET in content or after != before:
            wrong.append(f"{request_in_words}: {answer.status_code}")
    assert wrong == []
    assert [address for address, codes in answered.items() if 404 not in codes] == []


def test_another_athletes_log_is_neither_shown_nor_changed_nor_linked_to(ana, ben):
    wrong = []
    before = state()
    assert list(links_across(before)) == []
    for _, _, request_in_words, request in every_request(ben, fields=fields_naming_rows_of(ana)):
        answer, content, after = ask(ben.user, *request, before=before)
        if answer.status_code >= 500:
            wrong.append(f"{request_in_words}: {answer.status_code}")
        if SECRET in content or SECRET in str(answer.headers):
            wrong.append(f"{request_in_words} shows the other's log")
        if after is before:
            continue
        if rows_of(ana, after) != rows_of(ana, before):
            wrong.append(f"{request_in_words} changes the other's log")
        wrong.extend(f"{request_in_words} links {link}" for link in links_across(after))
    assert wrong == []


DOCUMENTS = {"api/v1/", "api/v1/docs", "api/v1/openapi.json"}
"""Under the API's address, and no operations."""


def api_requests(*owners_of_rows, fields):
    return [
        request
        for request in every_request(*owners_of_rows, fields=fields)
        if request[0].startswith("api/") and request[0] not in DOCUMENTS
    ]


def test_another_athletes_token_finds_no_row_of_the_owners(ana, ben):
    token = make_token(ben, "a program", "write", 30).secret
    wrong = []
    before = state()
    for address, owners, request_in_words, request in api_requests(ana, ben, fields={}):
        answer, content, after = ask(None, *request, before=before, token=token)
        if "/<" in address and ana in owners and answer.status_code not in {404, 405}:
            wrong.append(f"{request_in_words}: {answer.status_code}")
        if SECRET in content or SECRET in str(answer.headers):
            wrong.append(f"{request_in_words} shows the other's log")
        if rows_of(ana, after) != rows_of(ana, before):
            wrong.append(f"{request_in_words} changes the other's log")
    assert wrong == []


def test_the_owners_token_reaches_every_operation(ana):
    token = make_token(ana, "a program", "write", 30).secret
    before = state()
    reached = {
        address
        for address, _, _, request in api_requests(ana, fields={})
        if ask(None, *request, before=before, token=token)[0].status_code not in {302, 401, 404, 405}
    }
    assert {address for address in ADDRESSES if address.startswith("api/")} - DOCUMENTS == reached


def test_a_token_that_may_only_read_changes_nothing_anywhere(ana):
    token = make_token(ana, "a program", "read", 30)
    wrong = []
    before = state()
    for _, _, request_in_words, request in api_requests(ana, fields=fields_naming_rows_of(ana)):
        answer, _, after = ask(None, *request, before=before, token=token.secret)
        if request[0] != "GET" and answer.status_code not in {403, 405}:
            wrong.append(f"{request_in_words}: {answer.status_code}")
        for rows in (before, after):
            rows[log.ApiToken][token.row.pk]["last_used_at"] = None
        if after != before:
            wrong.append(f"{request_in_words} changes the log")
    assert wrong == []


def test_nobody_is_asked_to_sign_in_everywhere(ana):
    wrong = []
    asked: dict[str, set[int]] = {}
    before = state()
    for address, _, request_in_words, request in every_request(ana, fields=fields_naming_rows_of(ana)):
        answer, content, after = ask(None, *request, before=before)
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
