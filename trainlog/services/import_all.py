"""A whole exported log put into an empty one: all of it, or nothing."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Any, cast

from django.conf import settings
from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.core.serializers.base import DeserializationError, DeserializedObject
from django.core.serializers.python import Deserializer
from django.db import DatabaseError, models, transaction

from trainlog import originals, trace_blob
from trainlog.models import Activity, Athlete, Recording, Workout
from trainlog.services.athletes import FIRST_ACTIVITIES
from trainlog.services.log_changed import log_changed
from trainlog.services.whole_log import (
    FORMAT,
    MANIFEST,
    OF_THE_ATHLETE,
    SETTINGS,
    TABLES,
    VERSION,
    fields_of,
    rows_name,
    trace_name,
)

MOST_MEMBERS = 200_000
LARGEST_UNPACKED = 8 * 2**30
"""Bytes of all members together."""

LARGEST_ROWS = 256 * 2**20
"""Bytes of one table's rows, and of the manifest."""

LARGEST_RATIO = 100
"""Times that the whole may be larger than it is packed, beyond what is small anyway."""

SMALL = 64 * 2**20

_DIRECTORY_ENTRY = b"PK\x01\x02"
_PIECE = 2**20
_ENCRYPTED = 0x1
_SHA256 = re.compile(r"[0-9a-f]{64}")

DAMAGED = "The export is damaged: {}. Nothing was imported; take a new copy of the file."


class ImportRefused(ValueError):
    """The file is no whole export, is damaged, or the log is not empty; nothing was changed."""


@dataclass(frozen=True)
class Imported:
    """What an import brought."""

    workouts: int
    files: int
    rows: int


def import_all(athlete: Athlete, file: IO[bytes]) -> Imported:
    """Put a whole export into an empty log.

    Everything is read and checked before anything is written: hashes of all members, every row. Files are
    kept before the rows, which come in one transaction; if that fails, the files go again.

    Parameters
    ----------
    athlete : Athlete
        Whose log it becomes; its sign-in stays as it is.
    file : file
        The ZIP, open for reading at any place.

    Raises
    ------
    ImportRefused
        If the log holds anything, or the file is foreign or damaged.
    """
    _refuse_used(athlete)
    try:
        with zipfile.ZipFile(_counted(file)) as archive:
            whole = _Whole(archive, packed=_size(file))
            rows, chosen = whole.rows(), whole.settings()
            traces = whole.traces(_recordings(rows))
            named = {recording.sha256 for recording in _recordings(rows)} & set(whole.originals)
            new = sorted(sha256 for sha256 in named if not originals.path_of(athlete.pk, sha256).exists())
            try:
                for sha256 in new:
                    originals.keep(athlete.pk, whole.read(whole.originals[sha256], settings.MAX_FILE_BYTES))
                _write(athlete, chosen, rows, traces)
            except BaseException:
                for sha256 in new:
                    originals.forget(athlete.pk, sha256)
                raise
    except (ImportRefused, OSError):
        raise
    except DatabaseError as error:
        raise ImportRefused(DAMAGED.format("its rows contradict each other")) from error
    except Exception as error:  # zipfile and JSON leak many kinds on damage
        raise ImportRefused(DAMAGED.format(f"it cannot be read ({type(error).__name__})")) from error
    return Imported(
        workouts=len(rows[Workout]),
        files=len(rows[Recording]),
        rows=sum(len(found) for found in rows.values()),
    )


def is_empty(athlete: Athlete) -> bool:
    """Whether nothing was put into a log yet; the activities that it was opened with count as nothing."""
    if any(
        model._default_manager.filter(owner=athlete).exists() for model in TABLES if model is not Activity
    ):
        return False
    first = {(slug, name, family.value) for slug, name, family in FIRST_ACTIVITIES}
    return first.issuperset(Activity.objects.of(athlete).values_list("slug", "name", "family"))


def _refuse_used(athlete: Athlete) -> None:
    if not is_empty(athlete):
        raise ImportRefused(
            "This log is not empty, and an import would mix two logs. Import into a new sign-in, or delete "
            "everything in this log first."
        )


class _Whole:
    """An export, whose manifest was read and whose members are checked as they are read."""

    def __init__(self, archive: zipfile.ZipFile, packed: int) -> None:
        self.archive = archive
        self.left = min(LARGEST_UNPACKED, SMALL + LARGEST_RATIO * packed)
        infos = {info.filename: info for info in archive.infolist()}
        if MANIFEST not in infos:
            raise ImportRefused("This is no whole export of a training log: it holds no manifest.")
        if len(infos) != len(archive.infolist()):
            raise ImportRefused(DAMAGED.format("two of its files have one name"))
        for info in infos.values():
            if info.flag_bits & _ENCRYPTED or info.compress_type not in (
                zipfile.ZIP_STORED,
                zipfile.ZIP_DEFLATED,
            ):
                raise ImportRefused(
                    DAMAGED.format(f"{info.filename} is packed in another way than exports are")
                )
        manifest = json.loads(self._unpack(MANIFEST, LARGEST_ROWS))
        if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
            raise ImportRefused("This is no whole export of a training log: its manifest says otherwise.")
        if manifest.get("version") != VERSION:
            raise ImportRefused(
                f"This export has version {manifest.get('version')} of its form, and this program reads "
                f"version {VERSION}."
            )
        self.members: dict[str, dict[str, Any]] = manifest["members"]
        if set(self.members) != set(infos) - {MANIFEST}:
            raise ImportRefused(DAMAGED.format("files are missing from it, or were put in"))
        self.missing = set(manifest["missing_originals"])
        self.originals = {
            said["sha256"]: name for name, said in self.members.items() if name.startswith("originals/")
        }
        self._check_all()

    def read(self, name: str, most: int) -> bytes:
        """Content of a member, checked against the manifest."""
        content = self._unpack(name, most)
        self._check(name, hashlib.sha256(content).hexdigest())
        return content

    def settings(self) -> dict[str, Any]:
        """Settings of the athlete."""
        found = json.loads(self.read(SETTINGS, LARGEST_ROWS))
        if set(found) != set(OF_THE_ATHLETE):
            raise ImportRefused(DAMAGED.format("its settings are not those of a log"))
        return dict(found)

    def rows(self) -> dict[type[models.Model], list[DeserializedObject]]:
        """Rows of every table, not yet saved, with the keys that they had."""
        return {model: list(self._rows(model)) for model in TABLES}

    def traces(self, recordings: list[Recording]) -> dict[str, bytes]:
        """Packed traces by the hash of their file, each looked into."""
        found: dict[str, bytes] = {}
        for row in recordings:
            sha256 = row.sha256
            if not _SHA256.fullmatch(sha256) or not (sha256 in self.originals or sha256 in self.missing):
                raise ImportRefused(DAMAGED.format("a file that it names is not in it"))
            if row.state == Recording.State.READ:
                found[sha256] = self.read(trace_name(sha256), settings.MAX_FILE_BYTES)
                trace_blob.unpack(found[sha256])
        return found

    def _rows(self, model: type[models.Model]) -> Iterator[DeserializedObject]:
        wanted = {field.name for field in fields_of(model)}
        for line in self.read(rows_name(model), LARGEST_ROWS).splitlines():
            said = json.loads(line)
            if said["model"] != model._meta.label_lower or set(said["fields"]) != wanted:
                raise ImportRefused(DAMAGED.format(f"a row of {rows_name(model)} has another form"))
            try:
                (row,) = Deserializer([said])
                row.object.clean_fields(exclude=_unchecked(row.object))
            except (ValidationError, DeserializationError, FieldDoesNotExist) as error:
                raise ImportRefused(DAMAGED.format(f"a row of {rows_name(model)} cannot be")) from error
            if isinstance(row.object, Workout) and row.object.time_zone:
                zoneinfo.ZoneInfo(row.object.time_zone)
            yield row

    def _unpack(self, name: str, most: int) -> bytes:
        pieces = list(self._pieces(name, most))
        return b"".join(pieces)

    def _pieces(self, name: str, most: int) -> Iterator[bytes]:
        """Unpack a member piece by piece: what the archive says of its size is not believed."""
        size = 0
        with self.archive.open(name) as member:
            while piece := member.read(_PIECE):
                size += len(piece)
                if size > most:
                    raise ImportRefused(
                        f"{name} unpacks to more than {most // 2**20} MB; nothing was imported."
                    )
                yield piece

    def _check_all(self) -> None:
        """Hold every member against the manifest, and all of them against what a log can be."""
        for name in self.members:
            digest = hashlib.sha256()
            most = settings.MAX_FILE_BYTES if name.startswith("originals/") else LARGEST_ROWS
            for piece in self._pieces(name, most):
                self.left -= len(piece)
                if self.left < 0:
                    raise ImportRefused(
                        "The export unpacks to more than a log can hold; nothing was imported."
                    )
                digest.update(piece)
            self._check(name, digest.hexdigest())

    def _check(self, name: str, sha256: str) -> None:
        if self.members[name]["sha256"] != sha256:
            raise ImportRefused(DAMAGED.format(f"{name} is not what it was"))


def _recordings(rows: dict[type[models.Model], list[DeserializedObject]]) -> list[Recording]:
    return [cast(Recording, row.object) for row in rows[Recording]]


def _unchecked(row: models.Model) -> set[str]:
    """Fields of a row whose values are not looked into: links, lists, and what is empty."""
    return {
        field.name
        for field in row._meta.fields
        if field.is_relation
        or isinstance(field, models.JSONField)
        or getattr(row, field.attname) in field.empty_values
    }


def _write(
    athlete: Athlete,
    chosen: dict[str, Any],
    rows: dict[type[models.Model], list[DeserializedObject]],
    traces: dict[str, bytes],
) -> None:
    with transaction.atomic():
        current = Athlete.objects.select_for_update().get(pk=athlete.pk)
        _refuse_used(current)
        Activity.objects.of(current).delete()
        for name, value in chosen.items():
            setattr(current, name, value)
        current.clean_fields(exclude=["user", "demo_for"])
        current.save(update_fields=list(chosen))
        keys: dict[Any, dict[int, int]] = {}
        for model in TABLES:
            before = [row.object.pk for row in rows[model]]
            for row in rows[model]:
                _link(row.object, current, keys)
                if isinstance(row.object, Recording):
                    row.object.trace_blob = traces.get(row.object.sha256)
            made = model._default_manager.bulk_create((row.object for row in rows[model]), batch_size=200)
            keys[model] = {old: row.pk for old, row in zip(before, made, strict=True)}
            for field in model._meta.local_many_to_many:
                _link_many(field, rows[model], keys)
        log_changed(current)
    athlete.refresh_from_db()


def _link(row: models.Model, owner: Athlete, keys: dict[Any, dict[int, int]]) -> None:
    """Make a row the owner's, and have it name the new keys of what it named."""
    row.pk = None
    row._state.adding = True
    for field in row._meta.concrete_fields:
        if field.name == "owner":
            row.owner = owner  # type: ignore[attr-defined]
        elif field.is_relation and (old := getattr(row, field.attname)) is not None:
            setattr(row, field.attname, _new_key(field, old, keys))


def _link_many(
    field: models.ManyToManyField, rows: list[DeserializedObject], keys: dict[Any, dict[int, int]]
) -> None:
    through: Any = field.remote_field.through
    one, other = field.m2m_column_name(), field.m2m_reverse_name()
    through._default_manager.bulk_create(
        (
            through(**{one: row.object.pk, other: _new_key(field, old, keys)})
            for row in rows
            for old in (row.m2m_data or {}).get(field.name, ())
        ),
        batch_size=500,
    )


def _new_key(field: Any, old: int, keys: dict[Any, dict[int, int]]) -> int:
    try:
        return keys[field.related_model][old]
    except KeyError:
        raise ImportRefused(DAMAGED.format("a row names another that is not in it")) from None


def _size(file: IO[bytes]) -> int:
    return file.seek(0, 2)


def _counted(file: IO[bytes]) -> IO[bytes]:
    """Refuse a file with too many members before they are listed in memory."""
    file.seek(0)
    entries, tail = 0, b""
    while piece := file.read(_PIECE):
        entries += (tail + piece).count(_DIRECTORY_ENTRY)
        tail = piece[-3:]
        if entries > MOST_MEMBERS:
            raise ImportRefused(f"The file holds more than {MOST_MEMBERS:,} files; nothing was imported.")
    file.seek(0)
    return file
