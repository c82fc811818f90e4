"""A whole log in one ZIP: everything that the athlete gave, and what was estimated, for reading."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import tempfile
import zipfile
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import IO, Any

from django.conf import settings
from django.core.serializers.python import Serializer
from django.db import models, transaction
from django.utils import timezone

from trainlog import originals
from trainlog.models import Athlete, LoadEstimate, Recording
from trainlog.services.exports import TABLES as READABLE
from trainlog.services.exports import csv_pieces
from trainlog.services.log_changed import hold_log
from trainlog.services.whole_log import (
    FIELDS,
    FORMAT,
    LEFT_OUT,
    MANIFEST,
    README,
    SETTINGS,
    TABLES,
    VERSION,
    fields_of,
    rows_name,
    settings_of,
    trace_name,
)

PIECE = 2**20
"""Bytes that are held at once of a file that goes in."""

LOADS = "tables/loads.csv"
COLUMNS_OF_LOADS = {
    "workout": ("", "key of the workout in rows/workout.jsonl"),
    "part": ("", "key of the part in rows/part.jsonl"),
    "day": ("", "local day on which the workout began"),
    "measure": ("", "of load; loads of two measures do not add up"),
    "load_low": ("arbitrary units of the measure", "lower bound of the 80% interval, all doubt"),
    "load_median": ("arbitrary units of the measure", ""),
    "load_high": ("arbitrary units of the measure", "upper bound of the 80% interval, all doubt"),
    "sensor_half_width": ("share of the median, 0.1 is ±10%", "from the sensor's doubt alone"),
    "basis": ("", "what the load rests on"),
    "confidence": ("", "by the sensor's doubt"),
}


def export_all(athlete: Athlete) -> IO[bytes]:
    """Write a whole log into a file that goes away when it is closed.

    Rows and traces are read in one transaction, so they belong together; no more than a piece of any file
    is held in memory.

    Parameters
    ----------
    athlete : Athlete
        Whose log it is.

    Returns
    -------
    file
        A ZIP, open at its beginning. It lies in the data folder, without a name, until it is closed.
    """
    file = tempfile.TemporaryFile(dir=settings.DATA_FOLDER)  # noqa: SIM115
    try:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as archive:
            writer = _Writer(archive)
            with transaction.atomic():
                hold_log(athlete)
                kept = _write_rows(athlete, writer)
            missing = _write_originals(athlete, kept, writer)
            _write_tables(athlete, writer)
            writer.add(README, [_readme(missing).encode()])
            manifest = {
                "format": FORMAT,
                "version": VERSION,
                "made_at": timezone.now().isoformat(),
                "missing_originals": sorted(missing),
                "members": writer.members,
            }
            archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
        file.seek(0)
    except BaseException:
        file.close()
        raise
    return file


class _Writer:
    """Writes members, and keeps what the manifest says of them."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self.archive = archive
        self.members: dict[str, dict[str, object]] = {}

    def add(self, name: str, pieces: Iterable[bytes]) -> str:
        """Write a member; give its hash."""
        digest, size = hashlib.sha256(), 0
        info = zipfile.ZipInfo(name, timezone.now().timetuple()[:6])
        info.compress_type = zipfile.ZIP_DEFLATED
        with self.archive.open(info, "w", force_zip64=True) as member:
            for piece in pieces:
                member.write(piece)
                digest.update(piece)
                size += len(piece)
        self.members[name] = {"sha256": digest.hexdigest(), "bytes": size}
        return digest.hexdigest()


def _write_rows(athlete: Athlete, writer: _Writer) -> list[tuple[str, str]]:
    """Write settings, rows and traces; give hash and name of each file that was added to the log."""
    athlete.refresh_from_db()
    writer.add(SETTINGS, [json.dumps(settings_of(athlete), indent=1).encode()])
    for model in TABLES:
        writer.add(rows_name(model), _lines(model._default_manager.filter(owner=athlete).order_by("pk")))
    writer.add(FIELDS, [_table(_fields())])
    recordings = Recording.objects.of(athlete).order_by("pk")
    for row in recordings.exclude(trace_blob=None).only("sha256", "trace_blob").iterator(chunk_size=50):
        writer.add(trace_name(row.sha256), [bytes(row.trace_blob or b"")])
    return list(recordings.values_list("sha256", "file_name"))


def _lines(rows: models.QuerySet[Any]) -> Iterator[bytes]:
    names = [field.name for field in fields_of(rows.model)]
    many = [field.name for field in rows.model._meta.local_many_to_many]
    hidden = [
        field.name for field in rows.model._meta.concrete_fields if field.get_internal_type() == "BinaryField"
    ]
    serializer = Serializer()
    for row in rows.defer(*hidden).prefetch_related(*many).iterator(chunk_size=500):
        (line,) = serializer.serialize([row], fields=names)
        # Django's encoder of JSON would drop microseconds.
        yield json.dumps(line, default=_in_words, ensure_ascii=False).encode("utf-8", "surrogatepass") + b"\n"


def _in_words(value: object) -> str:
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    raise TypeError(f"{value!r} has no form in a row")


def _fields() -> Iterator[list[str]]:
    yield ["table", "field", "names a row of", "meaning, unit"]
    for model in TABLES:
        for field in fields_of(model):
            target = field.related_model
            names = target._meta.model_name if isinstance(target, type) else ""
            said = str(field.help_text) or str(field.verbose_name)
            yield [str(model._meta.model_name), field.name, str(names or ""), said]


def _write_originals(athlete: Athlete, kept: list[tuple[str, str]], writer: _Writer) -> list[str]:
    """Write the files as they came; give the hashes of those that are no longer whole on disk."""
    missing = []
    for sha256, file_name in kept:
        path = originals.path_of(athlete.pk, sha256)
        name = f"originals/{sha256[:12]} {_safe(file_name)}"
        if not path.exists() or writer.add(name, _pieces(path)) != sha256:
            missing.append(sha256)
    return missing


def _pieces(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while piece := file.read(PIECE):
            yield piece


def _safe(name: str) -> str:
    """Name of an uploaded file that is safe to unpack anywhere."""
    return "".join(letter if letter.isalnum() or letter in " ._-" else "_" for letter in name)[-80:]


def _write_tables(athlete: Athlete, writer: _Writer) -> None:
    for table in READABLE:
        writer.add(f"tables/{table}.csv", csv_pieces(athlete, table, None, None))
    writer.add(LOADS, _loads(athlete))
    described = [["table", "column", "unit", "meaning"]]
    for table, found in READABLE.items():
        described += [[table, column.name, column.unit, column.meaning] for column in found.columns]
    described += [["loads", name, unit, meaning] for name, (unit, meaning) in COLUMNS_OF_LOADS.items()]
    writer.add("tables/columns.csv", [_table(described)])


def _loads(athlete: Athlete) -> Iterator[bytes]:
    yield _table([list(COLUMNS_OF_LOADS)])
    shown = LoadEstimate.objects.of(athlete).filter(source=athlete.current_source)
    rows = shown.order_by("part__start", "part", "measure").values_list(
        "part__workout",
        "part",
        "part__workout__day",
        "measure",
        "low",
        "median",
        "high",
        "sensor_half_width",
        "basis",
        "confidence",
    )
    for row in rows.iterator(chunk_size=500):
        yield _table([[f"{cell:.10g}" if isinstance(cell, float) else cell for cell in row]])


def _table(rows: Iterable[Iterable[object]]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()


def _readme(missing: list[str]) -> str:
    left_out = "\n".join(f"  {name}: {why}" for name, why in LEFT_OUT.items())
    damaged = (
        f"\n{len(missing)} file(s) were no longer whole on disk; manifest.json lists their hashes.\n"
        if missing
        else ""
    )
    return f"""A whole training log, version {VERSION} of its form.

originals/   the files that were added, byte for byte, each after the first characters of its SHA-256
rows/        everything typed, chosen or found, a line of JSON for each row; rows/fields.csv says what a
             field means and in which unit. Instants are ISO 8601 with their zone.
traces/      decoded heart rate, one value a second, in the program's own packed form
tables/      for a table program: workouts with their loads, mornings, sets of lifting, and the loads in all
             four measures with their 80% intervals; tables/columns.csv gives units
{SETTINGS}   settings, and the seed that decides the draws of every estimate
{MANIFEST}   each of these files with its size and SHA-256
{damaged}
To have it in a log again: sign in to an empty log, Account, Take it with you, Import an export; or
  python manage.py import_log FILE --user NAME
The log then learns by itself; its estimates are the same to the bit under the same version of the program.

Not in here:
{left_out}

What was ticked under "What to mind" is in rows/care.jsonl. Keep this file where you would keep health
records.
"""
