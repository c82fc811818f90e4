"""Whatever is asked of any operation, it answers as the OpenAPI document says, and never with a fault.

Requests are made up from the document itself: those that it allows, on rows that are there and on any, and
those that it does not. What a request changes is taken back after it.
"""

import json

import hypothesis
import pytest
import schemathesis
from django.core.wsgi import get_wsgi_application
from django.db import transaction
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.builders import MORNING
from tests.full_log import DAYS, ROWS, full_log
from trainlog.api.operations import api
from trainlog.services.tokens import make_token

pytestmark = pytest.mark.django_db

EXAMPLES = 4
"""Requests of each kind to each operation."""

CHECKED = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    response_headers_conformance,
]

schema = schemathesis.openapi.from_dict(json.loads(json.dumps(api.get_openapi_schema())))
schema.app = get_wsgi_application()
OPERATIONS = [found.ok() for found in schema.get_all_operations()]  # type: ignore[union-attr]


@pytest.fixture(scope="module")
def log(django_db_setup, django_db_blocker, tmp_path_factory):
    """A log in which every kind of row has a row, for all tests here; and a token to it."""
    with django_db_blocker.unblock(), transaction.atomic():
        owner = full_log("ana", "plain")
        yield owner, make_token(owner, "a program", "write", 30).secret
        transaction.set_rollback(True)


def row_named(path, owner):
    """Path parameter that names a row of the log."""
    steps = path.split("/")
    found = [steps[place - 1] for place, step in enumerate(steps) if step.startswith("{")]
    if not found:
        return None
    if found[0] in DAYS:
        return {"day": MORNING.date().isoformat()}
    return {"id": ROWS[found[0]](owner).pk}


def ask(case, secret):
    with transaction.atomic():
        answer = case.call(headers={"Authorization": f"Bearer {secret}", "Accept-Encoding": "identity"})
        transaction.set_rollback(True)
    # A tag that is not that of what is there comes before any look at the body.
    rejects = [] if answer.status_code == 412 else [negative_data_rejection]
    case.validate_response(answer, checks=CHECKED + rejects)


@pytest.mark.parametrize("operation", OPERATIONS, ids=[operation.label for operation in OPERATIONS])
def test_an_operation_answers_as_described(operation, log):
    owner, secret = log
    there = row_named(operation.path, owner)
    kinds = [
        operation.as_strategy(GenerationMode.POSITIVE),
        operation.as_strategy(GenerationMode.NEGATIVE),
        operation.as_strategy(GenerationMode.POSITIVE, path_parameters=there),
    ]
    for strategy in kinds if there else kinds[:2]:

        @hypothesis.settings(
            max_examples=EXAMPLES,
            suppress_health_check=list(hypothesis.HealthCheck),
            phases=[hypothesis.Phase.generate],
        )
        @hypothesis.given(case=strategy)
        def answers_as_described(case):
            ask(case, secret)

        answers_as_described()
