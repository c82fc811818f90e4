"""Values of a table's row as JSON that is the same whatever database they come from."""

from __future__ import annotations

import json
import math
import uuid
from base64 import b64decode, b64encode
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from decimal import Context, Decimal
from typing import Any

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

PlainRow = list[Any]
"""A row's values as JSON knows them, in the order of the columns."""

_MICROSECOND = timedelta(microseconds=1)
_ALL_DIGITS = Context(prec=5000)


def columns_of(model: type[models.Model]) -> list[models.Field]:
    """Columns of a model's own table: the key, then the others by name.

    Models as they were at an earlier migration have their fields in another order.
    """
    columns = [field for field in model._meta.local_concrete_fields if not field.generated]
    return sorted(columns, key=lambda column: (not column.primary_key, column.attname))


class RowForm:
    """Turns rows of one table into plain values and back.

    Parameters
    ----------
    columns : sequence of Field
        The columns, in the order of the values.

    Raises
    ------
    TypeError
        If a column holds a kind of value that nobody has said how to keep.
    """

    def __init__(self, columns: Sequence[models.Field]) -> None:
        self._columns = columns
        kinds = [_kind(column) for column in columns]
        self._write = [_TO_PLAIN.get(kind, _as_it_is) for kind in kinds]
        self._read = [_FROM_PLAIN.get(kind, _as_it_is) for kind in kinds]
        self._is_json = [kind == "JSONField" for kind in kinds]

    def plain(self, values: Sequence[Any]) -> PlainRow:
        """Plain form of a row as Django reads it."""
        return [
            None if value is None else write(value) for write, value in zip(self._write, values, strict=True)
        ]

    def for_database(self, row: PlainRow, connection: BaseDatabaseWrapper) -> list[Any]:
        """Parameters that put a plain row into a database, unchanged by anything a model does on saving."""
        return [
            self._parameter(column, is_json, None if value is None else read(value), connection)
            for column, read, is_json, value in zip(
                self._columns, self._read, self._is_json, row, strict=True
            )
        ]

    def canonical(self, row: PlainRow) -> bytes:
        """Bytes that are equal for equal rows, whichever database they were read from.

        Databases differ in the order of a JSON object's keys and in whether 1.0 is kept as 1; one does
        not keep the sign of zero.
        """
        values = [
            _same_number(value) if is_json else _unsigned_zero(value)
            for value, is_json in zip(row, self._is_json, strict=True)
        ]
        return json.dumps(values, sort_keys=True, separators=(",", ":")).encode()

    @staticmethod
    def _parameter(column: models.Field, is_json: bool, value: Any, connection: BaseDatabaseWrapper) -> Any:
        if is_json and value is None and not column.null:
            return connection.ops.adapt_json_value(None, None)  # JSON's null, not an empty column
        return column.get_db_prep_save(value, connection)


def _kind(column: models.Field) -> str:
    while isinstance(column, models.ForeignKey):
        column = column.target_field
    kind = column.get_internal_type()
    if kind not in _TO_PLAIN and kind not in _PLAIN_ALREADY:
        raise TypeError(f"{column} is a {kind}, and nothing says how to keep one")
    return kind


def _as_it_is(value: Any) -> Any:
    return value


def _instant(value: datetime) -> str:
    return value.astimezone(UTC).isoformat()


def _same_number(value: Any) -> Any:
    """JSON value in which equal numbers look alike, and differ from any text."""
    if isinstance(value, dict):
        return {key: _same_number(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_same_number(inner) for inner in value]
    if isinstance(value, int | float) and not isinstance(value, bool):
        number = Decimal(repr(value)).normalize(_ALL_DIGITS)
        return {"number": "0" if number == 0 else str(number)}
    return value


def _unsigned_zero(value: Any) -> Any:
    return 0.0 if isinstance(value, float) and not math.isnan(value) and value == 0 else value


_PLAIN_ALREADY = {
    *("AutoField", "BigAutoField", "SmallAutoField"),
    *("IntegerField", "BigIntegerField", "SmallIntegerField"),
    *("PositiveIntegerField", "PositiveBigIntegerField", "PositiveSmallIntegerField"),
    *("FloatField", "BooleanField", "CharField", "TextField", "SlugField", "FileField", "URLField"),
    *("GenericIPAddressField", "JSONField"),
}
_TO_PLAIN: dict[str, Callable[[Any], Any]] = {
    "BinaryField": lambda value: b64encode(bytes(value)).decode(),
    "DateTimeField": _instant,
    "DateField": date.isoformat,
    "TimeField": time.isoformat,
    "DurationField": lambda value: value // _MICROSECOND,
    "DecimalField": str,
    "UUIDField": str,
}
_FROM_PLAIN: dict[str, Callable[[Any], Any]] = {
    "BinaryField": lambda text: b64decode(text, validate=True),
    "DateTimeField": datetime.fromisoformat,
    "DateField": date.fromisoformat,
    "TimeField": time.fromisoformat,
    "DurationField": lambda count: count * _MICROSECOND,
    "DecimalField": Decimal,
    "UUIDField": uuid.UUID,
}
