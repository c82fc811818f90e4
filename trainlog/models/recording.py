"""Recordings: the original bytes on disk, and what was decoded from them."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from trainlog import trace_blob
from trainlog.models.owned import Owned
from trainlog.models.sensor import Sensor
from trainlog.models.workout import Workout
from trainlog.readers.reading import Clock
from trainlog.trace import Trace

CLOCK_SETTINGS = [
    (Clock.SYNCHRONISED.value, "set by network, satellites or the other device"),
    (Clock.FREE.value, "ran free"),
    (Clock.UNKNOWN.value, "of unknown setting"),
]
"""Ways a recording's clock can have been set, in words."""


class Recording(Owned):
    """One sensor's trace of one workout, from one file."""

    class State(models.TextChoices):
        RECEIVED = "received", "waiting to be read"
        READ = "read", "read"
        REFUSED = "refused", "refused"

    sha256 = models.CharField(max_length=64)
    file_name = models.CharField(max_length=255)
    byte_count = models.PositiveBigIntegerField()
    received_at = models.DateTimeField(default=timezone.now)

    state = models.CharField(max_length=10, choices=State, default=State.RECEIVED)
    problem = models.TextField(blank=True, default="")
    asks_for = models.CharField(
        max_length=10, blank=True, default="", help_text='What would make it readable: "start" or "columns".'
    )
    notes = models.JSONField(default=list)
    attempts = models.PositiveSmallIntegerField(default=0)
    claimed_until = models.DateTimeField(null=True, blank=True)

    told = models.JSONField(
        default=dict, blank=True, help_text="What the athlete told of a text file: columns and start."
    )
    format = models.CharField(max_length=10, blank=True, default="")
    source_key = models.CharField(max_length=200, blank=True, default="")
    clock = models.CharField(
        max_length=12,
        choices=CLOCK_SETTINGS,
        default=Clock.UNKNOWN,
    )
    segments = models.JSONField(default=list, help_text="Stretches that the file marks: start, end, sport.")
    start = models.DateTimeField(null=True, blank=True)
    end = models.DateTimeField(null=True, blank=True, help_text="First instant after the last sample.")
    trace_blob = models.BinaryField(null=True, blank=True)

    sensor = models.ForeignKey(
        Sensor, on_delete=models.PROTECT, null=True, blank=True, related_name="recordings"
    )
    workout = models.ForeignKey(
        Workout, on_delete=models.SET_NULL, null=True, blank=True, related_name="recordings"
    )

    class Meta:
        ordering = ["start", "sha256"]
        constraints = [models.UniqueConstraint(fields=["owner", "sha256"], name="same_bytes_once")]
        indexes = [models.Index(fields=["state", "claimed_until"]), models.Index(fields=["owner", "start"])]

    def __str__(self) -> str:
        return self.file_name

    @property
    def seconds(self) -> int:
        """Length in seconds; 0 before the file was read."""
        return round((self.end - self.start).total_seconds()) if self.start and self.end else 0

    def trace(self) -> Trace:
        """Decoded signals.

        Raises
        ------
        ValueError
            If the file has not been read.
        """
        if self.trace_blob is None:
            raise ValueError(f"recording {self.pk} has no trace: its file is {self.state}")
        return trace_blob.unpack(bytes(self.trace_blob))
