"""The OpenAPI description, completed by what holds for all operations."""

from __future__ import annotations

from typing import Any

from trainlog.api.examples import EXAMPLES
from trainlog.api.problems import CONTENT_TYPE, KINDS, content_of

MEDIA_TYPES = "x-media-types"
"""By which an operation that hands out files says what they are, in its ``openapi_extra``."""

PROBLEM = {"$ref": "#/components/schemas/Problem"}

ANY = (400, 401, 429, 500)
"""What any operation may answer."""

CHANGING = (403,)
CHANGING_ONE = (412,)
POSTING = (409, 413, 422)


def _header(name: str, description: str, **schema: Any) -> dict[str, Any]:
    """Header that a request may have."""
    asked = {"in": "header", "required": False, "schema": {"type": "string", **schema}}
    return {"name": name, **asked, "description": description}


IF_MATCH = _header("If-Match", "ETag of what the change is meant for; 412 if it is another by now.")
IF_NONE_MATCH = _header("If-None-Match", "ETag of what is known already; 304 if it is still the same.")
IDEMPOTENCY_KEY = _header(
    "Idempotency-Key",
    "The same request with the same key is done once, within a day.",
    minLength=1,
    maxLength=200,
    pattern="^[!-~]+$",
)
ETAG = {"schema": {"type": "string"}, "description": "Tag of what is shown."}
LINK = {
    "schema": {"type": "string"},
    "description": "Address of the next page, with rel=next; not on the last.",
}
RETRY_AFTER = {"schema": {"type": "integer"}, "description": "Seconds."}


def described(document: Any) -> Any:
    """Add to a description the problems, headers and examples that all operations share."""
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            _complete(path, method.upper(), operation)
    schemas = document["components"]["schemas"]
    for name, example in EXAMPLES.items():
        if name in schemas:
            schemas[name]["examples"] = [example]
    return document


def _complete(path: str, method: str, operation: dict[str, Any]) -> None:
    operation["summary"] = operation["summary"].capitalize()
    responses = operation["responses"]
    parameters = operation.setdefault("parameters", [])
    statuses = set(ANY)
    if method == "GET":
        parameters.append(IF_NONE_MATCH)
        responses[304] = {"description": "Still as the tag in If-None-Match says"}
        shown = responses[200]
        shown["headers"] = {"ETag": ETAG}
        if any(parameter["name"] in {"cursor"} for parameter in parameters):
            shown["headers"]["Link"] = LINK
        _as_files(operation, shown)
    else:
        statuses |= {*CHANGING}
    if method in {"PUT", "PATCH", "DELETE"}:
        parameters.append(IF_MATCH)
        statuses |= {*CHANGING_ONE}
    if method == "POST":
        parameters.append(IDEMPOTENCY_KEY)
        statuses |= {*POSTING}
    if "{" in path:
        statuses |= {404, 422}
    given = {int(status) for status in responses}
    for status in statuses | {status for status in given if status >= 400}:
        said: dict[str, Any] = {
            "description": KINDS[status].title,
            "content": {CONTENT_TYPE: {"schema": PROBLEM, "example": content_of(status)}},
        }
        if status == 429:
            said["headers"] = {"Retry-After": RETRY_AFTER}
        responses.pop(str(status), None)
        responses[status] = said
    operation["responses"] = dict(sorted(responses.items(), key=lambda item: int(item[0])))


def _as_files(operation: dict[str, Any], shown: dict[str, Any]) -> None:
    """A file is no JSON: say what it is."""
    kinds = operation.pop(MEDIA_TYPES, None)
    if kinds is not None:
        binary = {"schema": {"type": "string", "format": "binary"}}
        shown["content"] = {kind.split(";")[0]: binary for kind in kinds}
        shown["headers"].pop("ETag")
