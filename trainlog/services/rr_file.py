"""rMSSD of a morning from a file of RR intervals, whose bytes are not kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.utils import timezone

from trainlog import readers
from trainlog.load.hrv import resting_variability
from trainlog.readers.delimited_columns import CsvColumns
from trainlog.readers.errors import UnreadableFile
from trainlog.readers.reading import Reading

LARGEST_BYTES = 2**20
"""Ten minutes of any format that is read take a tenth of this."""

LONGEST_MINUTES = 10
"""A recording at rest is one to five minutes long by custom; a longer one is no morning's rest (ours)."""

_LEEWAY_SECONDS = 15
"""For the hand on the button."""


@dataclass(frozen=True)
class MeasuredRmssd:
    """What a file of RR intervals says of a morning.

    Attributes
    ----------
    rmssd : float
        Milliseconds, to a tenth.
    rmssd_beats : int
        RR intervals in the file.
    rmssd_corrected_share : float
        Share (0 to 1) of them that was an artefact or lay outside any unbroken run.
    """

    rmssd: float
    rmssd_beats: int
    rmssd_corrected_share: float


def rmssd_of_file(content: bytes, day: date, zone: ZoneInfo) -> MeasuredRmssd:
    """Work out rMSSD of a recording at rest, after artefact correction.

    Parameters
    ----------
    content : bytes
        The whole file: RR intervals as plain text, or any recording that holds them.
    day : date
        Local day of the morning, which a file that dates itself must be of.
    zone : ZoneInfo
        The athlete's.

    Raises
    ------
    ValidationError
        If the file cannot be read, holds no RR intervals or too many minutes of them, is of another day,
        or too much of it had to be corrected.
    """
    if len(content) > LARGEST_BYTES:
        raise _refused(
            "The file is larger than 1 MB, more than ten minutes at rest take. Choose the file of the "
            "morning's recording alone."
        )
    reading, dated = _read(content, day, zone)
    trace = reading.trace
    if dated and trace.start.astimezone(zone).date() != day:
        raise _refused(
            f"The file was recorded on {trace.start.astimezone(zone):%d %B %Y}, not on this morning. Choose "
            "another file, or change the day."
        )
    if not len(trace.rr_ms):
        raise _refused(
            "The file holds no RR intervals: a heart rate alone does not give an rMSSD. Export the RR "
            "intervals of a chest strap, one in each line."
        )
    lasted = float(trace.rr_ms.sum()) / 1000
    if lasted > 60 * LONGEST_MINUTES + _LEEWAY_SECONDS:
        raise _refused(
            f"The file holds {lasted / 60:.0f} minutes of beats; use one to {LONGEST_MINUTES} minutes, lying "
            "or sitting still."
        )
    found = resting_variability(trace.rr_seconds, trace.rr_ms)
    if not found.usable:
        raise _refused(f"{found.refusal} Record again: wet the strap, and stay still for a minute or more.")
    return MeasuredRmssd(round(found.rmssd, 1), len(trace.rr_ms), found.corrected_share)


def _read(content: bytes, day: date, zone: ZoneInfo) -> tuple[Reading, bool]:
    """What is in a file, and whether it says itself when it was recorded."""
    now = timezone.now()
    try:
        try:
            return readers.read(content, now=now, time_zone=zone), True
        except UnreadableFile as refusal:
            if refusal.asks_for != "start":
                raise
        # Only the lengths of the intervals count: any instant of the day does for a file without a start.
        begin = datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)
        return readers.read(content, now=now, time_zone=zone, csv_columns=CsvColumns(start=begin)), False
    except UnreadableFile as refusal:
        raise _refused(str(refusal)) from refusal


def _refused(why: str) -> ValidationError:
    return ValidationError({"rr_file": why})
