"""Lists that go on: a page at a time, the next named by the answer's header Link (RFC 8288)."""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Callable, Iterable
from datetime import date
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit, urlunsplit

from django.core.exceptions import ValidationError
from django.http import HttpRequest
from ninja import Field, Schema
from ninja.pagination import CursorPagination, PaginationBase

USUAL_PAGE = 500
LARGEST_PAGE = 1000

Place = tuple[date | int | str, ...]
"""What rows are ordered by, from the first to the last that still tells two apart."""


class LinkedPages(PaginationBase):
    """Pages of a list that is ordered by what ``place_of`` says of each of its rows.

    A cursor is the place of a row and not a number of rows, so what is added or deleted meanwhile neither
    repeats a row nor hides one.

    Parameters
    ----------
    place_of : callable
        Place of a row.
    newest_first : bool
        Whether places fall from row to row.
    """

    class Input(Schema):
        cursor: str | None = Field(
            None, description="As in the address that the header Link of a page names with rel=next."
        )
        page_size: int = Field(USUAL_PAGE, ge=1, le=LARGEST_PAGE)

    Output = None  # type: ignore[assignment]

    def __init__(
        self, place_of: Callable[[Any], Place], *, newest_first: bool = False, **others: Any
    ) -> None:
        super().__init__(**others)
        self.place_of = place_of
        self.newest_first = newest_first

    def paginate_queryset(
        self, queryset: Iterable[Any], pagination: Any, request: HttpRequest, **params: Any
    ) -> list[Any]:
        """Rows of one page; the address of the next is noted on the request."""
        rows = sorted(queryset, key=self.place_of, reverse=self.newest_first)
        if pagination.cursor is not None:
            after = _decoded(pagination.cursor)
            try:
                rows = [row for row in rows if self._is_after(_plain(self.place_of(row)), after)]
            except TypeError as error:
                raise _damaged() from error
        page = rows[: pagination.page_size]
        if len(rows) > len(page):
            cursor = _encoded(_plain(self.place_of(page[-1])))
            request.next_page = _with_cursor(request.build_absolute_uri(), cursor)  # type: ignore[attr-defined]
        return page

    def _is_after(self, place: list[int | str], other: list[int | str]) -> bool:
        return place < other if self.newest_first else place > other


class NamedPages(CursorPagination):
    """Pages as of ninja, whose next is named in the header Link too."""

    def paginate_queryset(self, queryset: Any, pagination: Any, request: HttpRequest, **params: Any) -> Any:
        """One page with the addresses of those beside it."""
        page = super().paginate_queryset(queryset, pagination, request, **params)
        request.next_page = page["next"]  # type: ignore[attr-defined]
        return page


def _plain(place: Place) -> list[int | str]:
    return [part.isoformat() if isinstance(part, date) else part for part in place]


def _encoded(place: list[int | str]) -> str:
    return base64.urlsafe_b64encode(json.dumps(place).encode()).decode()


def _decoded(cursor: str) -> list[int | str]:
    try:
        place = json.loads(base64.urlsafe_b64decode(cursor.encode()))
    except (binascii.Error, ValueError, RecursionError) as error:
        raise _damaged() from error
    if not isinstance(place, list):
        raise _damaged()
    return place


def _damaged() -> ValidationError:
    return ValidationError("This cursor is damaged; start again without one.")


def _with_cursor(address: str, cursor: str) -> str:
    parts = urlsplit(address)
    query = parse_qs(parts.query, keep_blank_values=True) | {"cursor": [cursor]}
    return urlunsplit(parts._replace(query=urlencode(query, doseq=True)))
