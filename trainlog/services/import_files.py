"""From uploaded bytes to a recording in its workout."""

from __future__ import annotations

import logging
from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from trainlog import originals, readers, trace_blob
from trainlog.models import Athlete, Recording, Sensor, TextLayout
from trainlog.readers.delimited_columns import CsvColumns
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.reading import Reading
from trainlog.services.group_recordings import close_ranks, place
from trainlog.services.log_changed import hold_log
from trainlog.services.wake import wake
from trainlog.whereabouts import Whereabouts

logger = logging.getLogger(__name__)
READ_TASK = "trainlog.tasks.read_next"
MEBIBYTE = 2**20
ZONED_FORMATS = {"fit", "gpx"}
"""Formats whose times are instants."""


def check_size(byte_count: int) -> None:
    """Refuse a file by its size alone, so that an upload can be refused without reading it into memory.

    Raises
    ------
    UnreadableFile
        If it is empty or too large to be kept at all.
    """
    limit = settings.MAX_FILE_BYTES
    if not byte_count:
        raise UnreadableFile(
            "The file is empty", remedy="Export it again from the device and add it once more."
        )
    if byte_count > limit:
        raise UnreadableFile(
            f"The file has {byte_count / MEBIBYTE:.1f} MB, more than the {limit / MEBIBYTE:g} MB allowed",
            remedy="Export one workout a file, or have the limit raised (TRAINLOG_MAX_FILE_MB).",
        )


def receive(athlete: Athlete, file_name: str, content: bytes, *, wakes_a_worker: bool = True) -> Recording:
    """Keep a file's bytes for good and have a worker read them.

    Parameters
    ----------
    athlete : Athlete
        Whose log the file goes into.
    file_name : str
        Name as uploaded, for the athlete to recognise; it decides nothing.
    content : bytes
        The whole file.
    wakes_a_worker : bool
        Not needed where the caller reads the file at once itself.

    Returns
    -------
    Recording
        The new row, or the one that has these bytes already: the same bytes twice change nothing,
        but a file that was refused is tried once more.

    Raises
    ------
    UnreadableFile
        If the file is empty or too large to be kept at all.
    """
    return _keep(athlete, file_name, content, wakes_a_worker=wakes_a_worker)[0]


def _keep(
    athlete: Athlete, file_name: str, content: bytes, *, wakes_a_worker: bool = True
) -> tuple[Recording, bool]:
    """Keep bytes; the recording, and whether it was in the log already and needs nothing more."""
    check_size(len(content))
    sha256 = originals.keep(athlete.pk, content)
    with transaction.atomic():
        hold_log(athlete)
        if not originals.path_of(athlete.pk, sha256).exists():
            # A deletion of the same file was forgotten for good between the two lines above.
            originals.keep(athlete.pk, content)
        recording, made = Recording.objects.get_or_create(
            owner=athlete,
            sha256=sha256,
            defaults={"file_name": file_name[-255:], "byte_count": len(content)},
        )
        if made and wakes_a_worker:
            transaction.on_commit(lambda: wake(READ_TASK))
    if recording.state == Recording.State.REFUSED:
        # As its refusal may have asked for: the kept bytes may only now be whole.
        read_again(recording)
        recording.refresh_from_db()
        return recording, False
    return recording, not made


class Refusal(NamedTuple):
    """A file that could not be kept, and why."""

    name: str
    problem: str


@dataclass(frozen=True)
class Received:
    """What became of one upload: every file in it is a recording or a refusal.

    Attributes
    ----------
    recordings : sequence of Recording
        Of all files that were kept.
    refusals : sequence of Refusal
    known : sequence of Recording
        Those of the recordings that were in the log before: their files changed nothing.
    left_out : sequence of str
        Names of files that were not wanted.
    """

    recordings: Sequence[Recording]
    refusals: Sequence[Refusal]
    known: Sequence[Recording] = ()
    left_out: Sequence[str] = ()


def receive_all(
    athlete: Athlete, file_name: str, content: bytes, *, but_not: Collection[str] = ()
) -> Received:
    """Keep a file, or every file of an archive; one that cannot be kept does not hold up the others.

    Parameters
    ----------
    athlete : Athlete
        Whose log the files go into.
    file_name : str
        Name as uploaded.
    content : bytes
        A training file, a zip of such, or one packed with gzip.
    but_not : collection of str
        Hashes of files to leave out.
    """
    recordings, refusals, known, left_out = [], [], [], []
    try:
        check_size(len(content))
        packed = readers.unpack(content, file_name)
    except UnreadableFile as refusal:
        return Received([], [Refusal(file_name, str(refusal))])
    for file in packed:
        if but_not and originals.digest(file.data) in but_not:
            left_out.append(file.name)
            continue
        try:
            recording, was_there = _keep(athlete, file.name, file.data)
            recordings.append(recording)
            if was_there:
                known.append(recording)
        except UnreadableFile as refusal:
            refusals.append(Refusal(file.name, str(refusal)))
    return Received(recordings, refusals, known, left_out)


def read_recording(recording_id: int) -> None:
    """Decode a received file and place it in its workout. Doing so twice changes nothing."""
    recording = Recording.objects.select_related("owner").filter(pk=recording_id).first()
    if recording is None or recording.state != Recording.State.RECEIVED:
        return
    athlete = recording.owner
    try:
        content = originals.read(athlete.pk, recording.sha256)
        reading = _read(recording, content, athlete.whereabouts())
    except UnreadableFile as refusal:
        refuse(recording, str(refusal), asks_for=refusal.asks_for)
        return
    except (FileNotFoundError, ValueError) as loss:
        logger.exception("The original of recording %s cannot be read", recording_id)
        refuse(recording, f"The kept bytes of this file cannot be read: {loss}. Upload the file again.")
        return
    found = _columns(reading) | {"trace_blob": trace_blob.pack(reading.trace)}
    with transaction.atomic():
        try:
            hold_log(athlete)
        except Athlete.DoesNotExist:
            return  # the whole log was deleted meanwhile
        found["sensor"] = sensor_of_source(athlete, str(found["source_key"]))
        found |= {"state": Recording.State.READ, "claimed_until": None}
        # Compare and set: a second worker with the same task finds the state gone.
        if Recording.objects.filter(pk=recording.pk, state=Recording.State.RECEIVED).update(**found):
            for name, value in found.items():
                setattr(recording, name, value)
            _remember_columns(recording, content)
            place(recording)


def _read(recording: Recording, content: bytes, whereabouts: Whereabouts) -> Reading:
    """Decode a file; times without a zone are by the clock of where the athlete was that day."""

    def read_by(zone: ZoneInfo) -> Reading:
        return readers.read(
            content,
            keep_positions=recording.owner.keep_positions,
            now=timezone.now(),
            csv_columns=_columns_told(recording, content),
            time_zone=zone,
        )

    reading = read_by(whereabouts.home)
    # Which day a file is of is known once it is read; one whose times have a zone reads the same again.
    zone = whereabouts.zone_on(reading.trace.start.astimezone(whereabouts.home).date())
    return reading if zone == whereabouts.home or reading.format in ZONED_FORMATS else read_by(zone)


def refuse(recording: Recording, problem: str, *, asks_for: str = "") -> None:
    """Say on the row why the file did not become a recording; its bytes are kept until dismissed."""
    Recording.objects.filter(pk=recording.pk, state=Recording.State.RECEIVED).update(
        state=Recording.State.REFUSED, problem=problem, asks_for=asks_for, claimed_until=None
    )


def read_again(recording: Recording, columns: CsvColumns | None = None) -> None:
    """Read a refused file's kept bytes once more, or any text file's knowing more of it.

    Parameters
    ----------
    recording : Recording
        One that is still waiting is left to wait, and one that was read is left as it is unless
        something new is told of it.
    columns : CsvColumns, optional
        Which columns of a text file hold what, and when it starts; kept for the next reading too.
    """
    if recording.state == Recording.State.RECEIVED:
        return
    if recording.state == Recording.State.READ and columns is None:
        return
    workout = recording.workout
    with transaction.atomic():
        hold_log(recording.owner)
        if columns is not None:
            recording.told = {
                name: value for name, value in asdict(columns).items() if value and name != "start"
            }
            if columns.start:
                recording.told["start"] = columns.start.isoformat()
        recording.state, recording.problem, recording.attempts = Recording.State.RECEIVED, "", 0
        recording.asks_for = ""
        recording.claimed_until = recording.workout = recording.trace_blob = None
        recording.start = recording.end = None
        recording.save()
        if workout is not None:
            close_ranks(workout)
        transaction.on_commit(lambda: wake(READ_TASK))


def _columns_told(recording: Recording, content: bytes) -> CsvColumns:
    """What was told of this file, else what was told of another with the same header."""
    told = dict(recording.told)
    start = told.pop("start", None)
    if not told:
        known = TextLayout.objects.filter(owner=recording.owner_id, key=readers.layout_key(content) or None)
        told = next((layout.columns for layout in known), {})
    return CsvColumns(**told, start=datetime.fromisoformat(start) if start else None)


def _remember_columns(recording: Recording, content: bytes) -> None:
    columns = {name: column for name, column in recording.told.items() if name != "start"}
    key = readers.layout_key(content) if columns else ""
    if key:
        TextLayout.objects.update_or_create(
            owner_id=recording.owner_id, key=key, defaults={"columns": columns}
        )


def sensor_of_source(athlete: Athlete, source_key: str) -> Sensor | None:
    """Sensor whose files name their source like this."""
    if not source_key:
        return None
    return Sensor.objects.of(athlete).filter(source_key=source_key).order_by("pk").first()


def _columns(reading: Reading) -> dict[str, object]:
    return {
        "format": reading.format,
        "source_key": reading.source_key.replace("\0", "")[:200],
        "clock": reading.clock.value,
        "notes": list(reading.notes),
        "start": reading.trace.start,
        "end": reading.trace.end,
        "segments": [
            {"start": segment.start.isoformat(), "end": segment.end.isoformat(), "sport": segment.sport}
            for segment in reading.segments
        ],
    }
