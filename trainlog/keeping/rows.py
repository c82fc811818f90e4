"""Whole tables, read and filled row by row in bounded memory, with a digest of their values."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice, zip_longest
from typing import NamedTuple

from django.core.management.color import no_style
from django.db import DatabaseError, connections, models

from trainlog.keeping.values import PlainRow, RowForm, columns_of

AT_ONCE = 100
"""Rows in memory at a time; one may hold a trace or the file of a report."""

Model = type[models.Model]


class RowsRefused(Exception):
    """Rows that a database does not take, or gives back changed; names the table, never a value."""


class Digest(NamedTuple):
    """How many rows a table has, and a hash of all their values in the order of their keys."""

    rows: int
    sha256: str


class Digester:
    """Takes the digest of rows that pass by.

    Parameters
    ----------
    form : RowForm
        Of their table.
    """

    def __init__(self, form: RowForm) -> None:
        self._form = form
        self._hash = hashlib.sha256()
        self._rows = 0

    def passing(self, rows: Iterable[PlainRow]) -> Iterator[PlainRow]:
        """Rows as they are, each counted and hashed."""
        for row in rows:
            self._rows += 1
            self._hash.update(self._form.canonical(row))
            yield row

    @property
    def digest(self) -> Digest:
        """Digest of the rows so far."""
        return Digest(self._rows, self._hash.hexdigest())


def rows_of(model: Model, alias: str) -> Iterator[PlainRow]:
    """All rows of a table in the order of their keys, in plain form."""
    columns = columns_of(model)
    form = RowForm(columns)
    names = [column.attname for column in columns]
    rows = model._base_manager.using(alias).order_by("pk").values_list(*names)
    return map(form.plain, rows.iterator(chunk_size=AT_ONCE))


def digest_of(model: Model, alias: str) -> Digest:
    """Digest of a table."""
    digester = Digester(RowForm(columns_of(model)))
    for _ in digester.passing(rows_of(model, alias)):
        pass
    return digester.digest


def fill(models_: Sequence[Model], alias: str, rows: Callable[[Model], Iterable[PlainRow]]) -> None:
    """Put rows into tables that are empty, inside the transaction of the caller.

    Parameters
    ----------
    models_ : sequence of Model
        All tables, in any order: references between them are checked at the end.
    alias : str
        Database.
    rows : callable
        Rows of a table, in plain form.

    Raises
    ------
    RowsRefused
        If the database does not take one.
    """
    connection = connections[alias]
    for model in models_:
        try:
            _insert(model, alias, rows(model))
        except DatabaseError as error:
            raise RowsRefused(
                f"The database does not take a row of {model._meta.label_lower} ({type(error).__name__})."
            ) from error
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), list(models_)):
            cursor.execute(statement)
    try:
        connection.check_constraints()
    except DatabaseError as error:
        raise RowsRefused("A row names another that is not there.") from error


def compare(model: Model, one: str, other: str) -> Digest:
    """Hold a table of two databases against each other, row by row and value by value.

    Returns
    -------
    Digest
        Of both.

    Raises
    ------
    RowsRefused
        At the first row that differs, named by its key.
    """
    form = RowForm(columns_of(model))
    digester = Digester(form)
    for mine, theirs in zip_longest(digester.passing(rows_of(model, one)), rows_of(model, other)):
        if mine is None or theirs is None or form.canonical(mine) != form.canonical(theirs):
            key = (mine or theirs)[0]
            raise RowsRefused(f"Row {key} of {model._meta.label_lower} is not the same in both databases.")
    return digester.digest


def empty(models_: Sequence[Model], alias: str) -> None:
    """Remove every row of tables, with nothing that a model does on deletion."""
    for model in models_:
        model._base_manager.using(alias).all()._raw_delete(alias)


def _insert(model: Model, alias: str, rows: Iterable[PlainRow]) -> None:
    connection = connections[alias]
    columns = columns_of(model)
    form = RowForm(columns)
    quote = connection.ops.quote_name
    names = ", ".join(quote(str(column.column)) for column in columns)
    places = ", ".join("%s" for _ in columns)
    statement = f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES ({places})"
    with connection.cursor() as cursor:
        waiting = iter(rows)
        while some := [form.for_database(row, connection) for row in islice(waiting, AT_ONCE)]:
            cursor.executemany(statement, some)
