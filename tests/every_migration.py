"""A walk through every migration, from no table to the newest, with rows in all tables at every step."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from typing import Any

from django.apps.registry import Apps
from django.db import connections, models
from django.db.migrations.executor import MigrationExecutor

from tests.builders import MORNING

OURS = ("trainlog", "accuracy")
NEEDED = {"athlete", "workout", "part", "recording", "sensor"}
"""Tables that the log cannot be without; a walk that filled none of them would show nothing."""


class Rows:
    """Puts a row into every table that there is, and remembers what it put there."""

    def __init__(self, alias: str) -> None:
        self.alias = alias
        self.round = 0
        self.put: dict[str, dict[int, dict[str, Any]]] = defaultdict(dict)

    def put_everywhere(self, apps: Apps) -> None:
        """One more row in each table, all of one new athlete's."""
        self.round += 1
        made: dict[str, models.Model] = {}
        ours = [model for model in apps.get_models() if model._meta.app_label in OURS]
        waiting = [apps.get_model("auth", "User"), *ours]
        while waiting:
            ready = [model for model in waiting if _needs(model) <= set(made)]
            assert ready, f"these need each other: {waiting}"
            for model in ready:
                row = model._base_manager.using(self.alias).create(**self._values(model, made))
                made[model._meta.label_lower] = row
                row.refresh_from_db(using=self.alias)
                self.put[model._meta.label_lower][row.pk] = _columns(row)
            waiting = [model for model in waiting if model not in ready]

    def _values(self, model: type[models.Model], made: dict[str, models.Model]) -> dict[str, Any]:
        values = {}
        for place, field in enumerate(model._meta.local_concrete_fields):
            if field.primary_key or field.null:
                continue
            if isinstance(field, models.ForeignKey):
                values[field.name] = made[field.related_model._meta.label_lower]
            else:
                values[field.name] = self._value(field, place)
        return values

    def _value(self, field: models.Field, place: int) -> Any:
        """Any value that the column takes; later columns hold more, so that what begins ends after."""
        number = self.round + place
        if isinstance(field, models.CharField | models.TextField):
            return f"{self.round}-{place}é"[-(field.max_length or 10) :]
        for kind, value in (
            (models.BinaryField, b"\x00\xff" + bytes([number % 256])),
            (models.BooleanField, bool(number % 2)),
            (models.DateTimeField, MORNING + timedelta(days=self.round, hours=place, microseconds=number)),
            (models.DateField, date(2026, 3, 2) + timedelta(days=7 * self.round + place)),
            (models.JSONField, {"number": number, "list": [1.5, None, "é"]}),
            (models.UUIDField, field.get_default()),
            (models.FloatField, 30 * place + number + 0.1),
            (models.IntegerField, number),
        ):
            if isinstance(field, kind):
                return value
        raise AssertionError(f"no value for {field}")


def walk(alias: str) -> tuple[Rows, Apps]:
    """Apply every migration in turn, with rows in all tables before each.

    Returns
    -------
    tuple of Rows and Apps
        What was put in on the way, and the models at the end.
    """
    executor = MigrationExecutor(connections[alias])
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    rows = Rows(alias)
    newest = {migration.app_label: migration.name for migration, _ in plan if migration.app_label not in OURS}
    executor.migrate(list(newest.items()))
    for migration, _ in plan:
        if migration.app_label not in OURS:
            continue
        newest[migration.app_label] = migration.name
        executor = MigrationExecutor(connections[alias])
        executor.migrate([(migration.app_label, migration.name)])
        apps = executor.loader.project_state(list(newest.items())).apps
        if set(apps.all_models["trainlog"]) >= NEEDED:
            rows.put_everywhere(apps)
    return rows, apps


def lost_or_changed(rows: Rows, apps: Apps) -> list[str]:
    """What of the rows that were put in is no longer there, or has another value, by table and column."""
    wrong = []
    for label, put in rows.put.items():
        found = apps.get_model(label)._base_manager.using(rows.alias).in_bulk(list(put))
        for pk, before in put.items():
            if pk not in found:
                wrong.append(f"{label} {pk}")
                continue
            after = _columns(found[pk])
            wrong += [f"{label}.{name}" for name, value in before.items() if after.get(name, value) != value]
    return wrong


def _needs(model: type[models.Model]) -> set[str]:
    return {
        field.related_model._meta.label_lower
        for field in model._meta.local_concrete_fields
        if isinstance(field, models.ForeignKey) and not field.null
    }


def _columns(row: models.Model) -> dict[str, Any]:
    values = {field.attname: getattr(row, field.attname) for field in row._meta.local_concrete_fields}
    return {name: bytes(value) if isinstance(value, memoryview) else value for name, value in values.items()}
