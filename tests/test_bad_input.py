"""Whatever is sent to a form, an address or an operation: an answer in words, and never a failure.

Every form that a page shows and every operation of the API gets, in place of one field after the other, what
no field expects. Text that PostgreSQL refuses and SQLite takes is refused here too.
"""

import json
import re
from html.parser import HTMLParser

import pytest
from django.db import connection, transaction
from django.test import Client

from tests.full_log import fields_naming_rows_of, full_log
from tests.test_ownership import ADDRESSES, filled, rows_named
from trainlog.api.operations import api

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

BAD_TEXTS = ("9" * 5000, "1e308", "0000")
BAD_QUERIES = ("\0", "9" * 5000, "-1", "nan", "9999-12-31")
BAD_VALUES = (
    None,
    "a\0b",
    "\ud800",
    "x" * 20_000,
    -1,
    10**30,
    1e308,
    float("nan"),
    ["a"] * 1000,
    "9999-12-31",
)
BAD_BODIES = ("", "[]", "null", "{", '"x"', "\0", '{"a":' * 2000)

ASKED = {
    "page": "1",
    "year": "2026",
    "month": "2026-03",
    "span": "all",
    "from": "2026-03-01",
    "to": "2026-03-09",
}
"""What pages are asked for by links and not by a form."""

NOTED = {
    "start": "2026-01-02T10:00:00Z",
    "activity": "run",
    "note": "slept well",
    "tags": ["gym"],
    "day": "2026-03-02",
    "hard": True,
    "exercise": "squat",
    "time_zone": "Asia/Tokyo",
    "first_day": "2025-01-01",
    "last_day": "2025-01-03",
    "low": 100,
    "high": 200,
    "resting_rate": 50,
    "rmssd": 60,
}
"""What a body may hold; whatever is left out is a small number."""


class Forms(HTMLParser):
    """Method, address and fields of every form of a page."""

    def __init__(self, page):
        super().__init__()
        self.found, self._fields = [], {}
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        said = dict(attributes)
        if tag == "form":
            self._fields = {}
            self.found.append((said.get("method", "get"), said.get("action", ""), self._fields))
        elif tag in {"input", "select", "textarea", "button"} and said.get("name"):
            self._fields.setdefault(said["name"], said.get("value") or "")


@pytest.fixture
def ana():
    return full_log("ana", "ana")


@pytest.fixture
def browser(ana):
    client = Client()
    client.force_login(ana.user)
    return client


def refuse_null(execute, sql, params, many, context):
    for values in params if many else [params or ()]:
        assert not any(isinstance(value, str) and "\0" in value for value in values), sql
    return execute(sql, params, many, context)


def failure(ask):
    """What went wrong in an answer, if anything; changes are taken back."""
    try:
        with transaction.atomic(), connection.execute_wrapper(refuse_null):
            answer = ask()
            answer.getvalue()
            transaction.set_rollback(True)
    except Exception as error:
        return f"{type(error).__name__}: {error}"[:300]
    return answer.status_code if answer.status_code >= 500 else None


def paths(owner, api_too=False):
    return [
        (address, filled(address, [owner] * len(rows_named(address))))
        for address in ADDRESSES
        if address.startswith("api/") == api_too
    ]


def forms_shown(browser, owner):
    """Fields of each form, by method and address."""
    forms = {}
    for _, path in paths(owner):
        answer = browser.get(path)
        if answer.status_code == 200 and not answer.streaming:
            forms.setdefault(("get", path), {}).update(ASKED)
            for method, action, fields in Forms(answer.content.decode()).found:
                forms.setdefault((method, (action or path).partition("?")[0]), {}).update(fields)
    return forms


def test_no_field_of_a_form_makes_a_page_fail(ana, browser):
    named = fields_naming_rows_of(ana)
    forms = forms_shown(browser, ana)
    assert len(forms) > 50
    wrong = {}
    for (method, path), fields in forms.items():
        sensible = {name: named.get(name, value) for name, value in fields.items()}
        for name in fields:
            for bad in BAD_TEXTS:
                found = failure(lambda: getattr(browser, method)(path, sensible | {name: bad}))  # noqa: B023
                if found:
                    wrong[method, path, name, bad[:10]] = found
    assert wrong == {}


def operations(owner):
    """Path, method, fields of the body if it has one, and parameters of the query of each operation."""
    spec = api.get_openapi_schema(path_prefix="/api")
    for address, path in paths(owner, api_too=True):
        written = "/" + re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", address)
        for method, operation in spec["paths"].get(written, {}).items():
            body = operation.get("requestBody", {}).get("content", {}).get("application/json")
            fields = None
            if body:
                schema = spec["components"]["schemas"][body["schema"]["$ref"].rpartition("/")[2]]
                fields = {name: NOTED.get(name, 5) for name in schema["properties"]}
            asked = [one["name"] for one in operation.get("parameters", ()) if one["in"] == "query"]
            yield path, method, fields, asked


def test_no_body_makes_an_operation_fail(ana, browser):
    wrong = {}
    for path, method, fields, _ in operations(ana):
        if fields is None:
            continue
        bodies = [json.dumps(fields | {name: bad}) for name in fields for bad in BAD_VALUES]
        for body in (*bodies, *BAD_BODIES):
            found = failure(
                lambda: browser.generic(method.upper(), path, body, content_type="application/json")  # noqa: B023
            )
            if found:
                wrong[method, path, body[:200]] = found
    assert wrong == {}


def test_no_query_makes_an_operation_fail(ana, browser):
    wrong = {}
    for path, _, _, asked in operations(ana):
        for name in asked:
            for bad in BAD_QUERIES:
                found = failure(lambda: browser.get(path, {name: bad}))  # noqa: B023
                if found:
                    wrong[path, name, bad[:10]] = found
    assert wrong == {}
