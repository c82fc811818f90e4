"""What a whole exported log is made of: one ZIP with originals, traces, rows, tables to read, a manifest.

Rows are lines of JSON, one file a table, each with its old key; an import gives new keys and keeps the links.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.db import models

from trainlog.models import (
    Activity,
    Athlete,
    Care,
    CheckIn,
    ClaimedRecovery,
    DeclinedOffer,
    Firmware,
    LiftSet,
    Part,
    Physiology,
    PlannedSession,
    Recording,
    Sensor,
    Stay,
    Tag,
    TextLayout,
    UnknownDay,
    WeekPlan,
    Workout,
)

FORMAT, VERSION = "whole training log", 1

MANIFEST, README, SETTINGS, FIELDS = "manifest.json", "README.txt", "settings.json", "rows/fields.csv"

TABLES: Sequence[type[models.Model]] = (
    Activity,
    Tag,
    Sensor,
    Firmware,
    Physiology,
    Care,
    DeclinedOffer,
    Stay,
    UnknownDay,
    CheckIn,
    TextLayout,
    WeekPlan,
    PlannedSession,
    Workout,
    Part,
    LiftSet,
    ClaimedRecovery,
    Recording,
)
"""Tables of what the athlete gave, each after those that its rows name."""

LEFT_OUT = {
    "ApiToken": "opens this log; another log has programs of its own",
    "Deletion": "was deleted",
    "SignIn": "opens this log; one signs in to another",
    "Publication": "tells the programs of this log when its estimates changed",
    "UploadKey": "a request to this log, remembered for a day",
    "LoadEstimate": "is worked out anew, to the bit; what it says is in tables/loads.csv",
    "IntensityEstimate": "is worked out anew, to the bit",
    "TrendWeek": "is worked out anew, to the bit",
}
"""Tables of the log that are not exported, and why."""

OF_THE_ATHLETE = (
    "time_zone",
    "keep_positions",
    "near_per_cent",
    "measure",
    "acute_days",
    "chronic_days",
    "slow_days",
    "fast_days",
    "seed",
)
"""Columns of the athlete's own row that are the same wherever the log lives; the seed decides every draw."""

NOT_IN_ROWS = {"owner", "id", "trace_blob", "claimed_until"}
"""Columns that are not in the rows: keys stand beside them, traces are files, and claims are a worker's."""


def fields_of(model: type[models.Model]) -> list[models.Field]:
    """Columns of a table, and its lists of other rows, that are exported."""
    return [
        field
        for field in (*model._meta.concrete_fields, *model._meta.local_many_to_many)
        if field.name not in NOT_IN_ROWS
    ]


def rows_name(model: type[models.Model]) -> str:
    """Name of the file of a table's rows."""
    return f"rows/{model._meta.model_name}.jsonl"


def trace_name(sha256: str) -> str:
    """Name of the file of a recording's decoded trace."""
    return f"traces/{sha256}"


def settings_of(athlete: Athlete) -> dict[str, object]:
    """Athlete's own settings."""
    return {name: getattr(athlete, name) for name in OF_THE_ATHLETE}
