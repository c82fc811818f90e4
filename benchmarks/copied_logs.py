"""Many logs from one: rows copied inside PostgreSQL, all keys moved along; imported once Django is set up."""

from __future__ import annotations

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, models, transaction

from trainlog.models import Athlete

APART = 1_000_000
"""Keys between one log and its copy; more than a log has rows of a kind."""

OWNED = ("accuracy", "trainlog")


def copy_log(athlete: Athlete, copies: int) -> None:
    """Copy the only log of a database so many times, each for a user of its own.

    Parameters
    ----------
    athlete : Athlete
        Its owner; the copies' names are that name with a number behind it.
    copies : int
        Keys of copy ``k`` are those of the log and ``k`` times ``APART``.
    """
    user = type(athlete.user)
    copied = [
        user,
        *(model for app in OWNED for model in apps.get_app_config(app).get_models(include_auto_created=True)),
    ]
    with transaction.atomic(), connection.cursor() as cursor:
        for model in copied:
            cursor.execute(_statement(model, copied), [copies])
        for statement in connection.ops.sequence_reset_sql(no_style(), copied):
            cursor.execute(statement)
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")  # as autovacuum does


def _statement(model: type[models.Model], copied: list[type[models.Model]]) -> str:
    """Insertion of all copies of a model's rows."""
    quote = connection.ops.quote_name
    columns, values = [], []
    for field in model._meta.concrete_fields:
        column = quote(str(field.column))
        columns.append(column)
        if field.primary_key or field.related_model in copied:
            values.append(f"{column} + copy * {APART}")
        elif field.name == "username":
            values.append(f"{column} || '-' || copy")
        else:
            values.append(column)
    table = quote(model._meta.db_table)
    return (
        f"INSERT INTO {table} ({', '.join(columns)}) SELECT {', '.join(values)} "
        f"FROM {table}, generate_series(1, %s) AS copy"
    )
