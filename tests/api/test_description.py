"""The OpenAPI description says what holds for every operation, with examples that are what it says."""

import jsonschema_rs
import pytest

from trainlog.api.examples import EXAMPLES
from trainlog.api.operations import api

DOCUMENT = api.get_openapi_schema()
SCHEMAS = DOCUMENT["components"]["schemas"]
OPERATIONS = [
    (method, path, operation)
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
]


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_is_valid_by_its_schema(name):
    schema = {"$ref": f"#/components/schemas/{name}", "components": DOCUMENT["components"]}
    jsonschema_rs.validate(schema, EXAMPLES[name])
    assert SCHEMAS[name]["examples"] == [EXAMPLES[name]]


def test_every_body_that_an_operation_takes_has_an_example():
    bodies = {
        content["schema"].get("$ref", "").rsplit("/", 1)[-1]
        for _, _, operation in OPERATIONS
        for kind, content in operation.get("requestBody", {}).get("content", {}).items()
        if kind == "application/json"
    }
    assert bodies - set(EXAMPLES) == set()


@pytest.mark.parametrize(
    ("method", "path", "operation"), OPERATIONS, ids=[f"{one[0]} {one[1]}" for one in OPERATIONS]
)
def test_what_an_operation_refuses_is_described_as_a_problem(method, path, operation):
    for status, answer in operation["responses"].items():
        if int(status) >= 400:
            (said,) = answer["content"].values()
            assert list(answer["content"]) == ["application/problem+json"]
            assert said["schema"] == {"$ref": "#/components/schemas/Problem"}
            assert said["example"]["status"] == int(status)
    assert {400, 401, 429, 500} <= {int(status) for status in operation["responses"]}


@pytest.mark.django_db
def test_every_kind_of_problem_that_is_described_is_listed(signed_in):
    listed = {kind["status"]: kind["type"] for kind in signed_in.get("/api/v1/problems").json()}
    described = {int(status) for _, _, one in OPERATIONS for status in one["responses"] if int(status) >= 400}
    assert described <= set(listed)
    assert listed[404] == "/api/v1/problems#not-found"


def test_every_address_that_can_be_changed_can_be_read_so_that_its_tag_is_known():
    for path, methods in DOCUMENT["paths"].items():
        if {"patch", "put", "delete"} & set(methods):
            assert "get" in methods, path
