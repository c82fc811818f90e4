"""What a migration may do while the version before it still runs; DEVELOPERS.md says why."""

from importlib import import_module
from pathlib import Path

import pytest
from django.db import migrations, models
from django.db.models import NOT_PROVIDED

PROJECT = Path(__file__).resolve().parents[2]
BEFORE_THE_POLICY = {
    *("trainlog.0001_initial", "trainlog.0002_near_per_cent", "trainlog.0003_check_in"),
    *("trainlog.0004_load_measures_and_plans", "trainlog.0005_deletions_tokens_and_own_demo"),
    *("accuracy.0001_initial", "accuracy.0002_session_states", "accuracy.0003_strap_plan"),
    "accuracy.0004_reports",
}
"""Made before anybody's log had to go on during an update."""

ADDING = (migrations.CreateModel, migrations.AddField)
TAKING_AWAY = (migrations.RemoveField, migrations.DeleteModel)
RENAMING = (migrations.RenameField, migrations.RenameModel, migrations.AlterModelTable)


def against_the_policy(operations):
    """What of a migration breaks a version that runs beside it, in words."""
    kinds = [type(operation) for operation in operations]
    wrong = []
    if any(kind in TAKING_AWAY for kind in kinds) and any(kind in ADDING for kind in kinds):
        wrong.append("adds and takes away")
    if any(kind in RENAMING for kind in kinds):
        wrong.append("renames")
    new = {
        operation.name.lower() for operation in operations if isinstance(operation, migrations.CreateModel)
    }
    for operation in operations:
        if isinstance(operation, migrations.AddField) and operation.model_name.lower() not in new:
            field = operation.field
            if not (field.null or field.many_to_many or field.db_default is not NOT_PROVIDED):
                wrong.append(f"adds {operation.name}, which the version before does not fill")
        if not operation.reversible:
            wrong.append("cannot be undone")
    return wrong


def ours():
    for app in ("trainlog", "accuracy"):
        for path in sorted((PROJECT / app / "migrations").glob("[0-9]*.py")):
            name = f"{app}.{path.stem}"
            if name not in BEFORE_THE_POLICY:
                yield name, import_module(f"{app}.migrations.{path.stem}").Migration.operations


def test_a_version_runs_beside_the_migrations_of_the_next():
    wrong = {name: found for name, operations in ours() if (found := against_the_policy(operations))}
    assert wrong == {}


def test_no_exception_is_kept_for_a_migration_that_is_gone():
    there = {f"{path.parts[-3]}.{path.stem}" for path in PROJECT.glob("*/migrations/[0-9]*.py")}
    assert there >= BEFORE_THE_POLICY


@pytest.mark.parametrize(
    ("operations", "wrong"),
    [
        ([migrations.AddField("part", "note", models.TextField(null=True))], []),
        ([migrations.AddField("part", "note", models.TextField(db_default=""))], []),
        ([migrations.AddField("part", "tags", models.ManyToManyField("trainlog.Tag"))], []),
        ([migrations.RemoveField("part", "note")], []),
        (
            [migrations.AddField("part", "note", models.TextField(default=""))],
            ["adds note, which the version before does not fill"],
        ),
        (
            [
                migrations.CreateModel("Kind", [("id", models.BigAutoField(primary_key=True))]),
                migrations.AddField("kind", "note", models.TextField()),
            ],
            [],
        ),
        (
            [
                migrations.AddField("part", "words", models.TextField(null=True)),
                migrations.RemoveField("part", "note"),
            ],
            ["adds and takes away"],
        ),
        ([migrations.RenameField("part", "note", "words")], ["renames"]),
        ([migrations.RunPython(print)], ["cannot be undone"]),
        ([migrations.RunPython(print, migrations.RunPython.noop)], []),
    ],
)
def test_the_policy_tells_what_is_safe(operations, wrong):
    assert against_the_policy(operations) == wrong
