"""What is learned: evidence kept per part, pairs, fits and error profiles."""

from __future__ import annotations

import numpy as np
from django.db import models
from django.utils import timezone

from accuracy.core.estimates.advise import Verdict
from trainlog import trace_blob
from trainlog.models import Activity, Part, Recording, Sensor
from trainlog.models.owned import Owned
from trainlog.trace import FloatArray


def histogram_bytes(seconds_at_rate: FloatArray) -> bytes:
    """Histogram of heart rate for a database column."""
    return np.asarray(seconds_at_rate, dtype="<f4").tobytes()


class PartEvidence(Owned):
    """Input revision at which a part's recordings were digested; a refit decodes no trace."""

    part = models.OneToOneField(Part, on_delete=models.CASCADE, related_name="evidence")
    input_revision = models.PositiveIntegerField()
    method_version = models.PositiveIntegerField()
    attempts = models.PositiveSmallIntegerField(default=0)
    failure = models.TextField(blank=True, default="", help_text="Why this part could not be digested.")

    def __str__(self) -> str:
        return f"evidence of {self.part}"


class Stretch(Owned):
    """What one recording holds of one part."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="stretches")
    recording = models.ForeignKey(Recording, on_delete=models.CASCADE, related_name="stretches")
    seconds = models.PositiveIntegerField(help_text="Length of the part.")
    valid_seconds = models.PositiveIntegerField()
    histogram = models.BinaryField(help_text="Seconds at each whole bpm, valid seconds only.")
    flags = models.JSONField(default=list, help_text="Flagged stretches: first second, end second, reason.")
    # Of a tested sensor only; with these a refit or an estimate decodes no trace.
    states = models.BinaryField(default=b"", help_text="Seconds by state; see core.states.")
    roughness = models.FloatField(default=0.0, help_text="bpm; see core.features.texture_of.")
    mean_cadence = models.FloatField(null=True, help_text="Steps or strides a minute.")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["part", "recording"], name="one_stretch_a_recording")]

    def __str__(self) -> str:
        return f"{self.recording} in {self.part}"

    @property
    def seconds_at_rate(self) -> FloatArray:
        """Histogram of heart rate, shape (256,)."""
        return np.frombuffer(bytes(self.histogram), dtype="<f4").astype(float)


class Pair(Owned):
    """The aligned reference and tested recordings of one part."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="pairs")
    reference = models.ForeignKey(Recording, on_delete=models.CASCADE, related_name="+")
    tested = models.ForeignKey(Recording, on_delete=models.CASCADE, related_name="+")
    usable = models.BooleanField()
    remarks = models.JSONField(default=list, help_text="What was cut or why the pair was set aside.")
    shift = models.FloatField(help_text="Seconds by which the tested trace was moved.")
    shift_ambiguous = models.BooleanField()
    shift_uncertainty = models.FloatField(null=True, help_text="Standard error of the shift in seconds.")
    shift_drift = models.FloatField(default=0.0, help_text="Seconds an hour by which the tested clock lags.")
    common_seconds = models.PositiveIntegerField()
    agreement = models.JSONField(default=dict, help_text="Agreement figures over the common seconds.")
    reference_histogram = models.BinaryField(help_text="Over the common seconds.")
    tested_histogram = models.BinaryField(help_text="Over the common seconds.")
    common_states = models.BinaryField(
        default=b"", help_text="Common seconds by state of the tested trace, with differences."
    )
    # Aligned, on the part's seconds, nothing where either is missing or cut: agreement over many pairs
    # needs them second by second, and aligning again would cost more than keeping some kilobytes.
    reference_trace = models.BinaryField()
    tested_trace = models.BinaryField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["part", "reference", "tested"], name="one_pair_of_recordings")
        ]

    def __str__(self) -> str:
        return f"pair of {self.part}"

    @property
    def traces(self) -> tuple[FloatArray, FloatArray]:
        """Aligned reference and tested heart rate over the part, NaN outside the common seconds."""
        return (
            trace_blob.unpack_heart_rate(bytes(self.reference_trace)),
            trace_blob.unpack_heart_rate(bytes(self.tested_trace)),
        )

    @property
    def histograms(self) -> tuple[FloatArray, FloatArray]:
        """Reference's and tested sensor's seconds at each rate over the common seconds."""
        reference, tested = (
            np.frombuffer(bytes(stored), dtype="<f4").astype(float)
            for stored in (self.reference_histogram, self.tested_histogram)
        )
        return reference, tested


class Fit(Owned):
    """All error profiles of an athlete, learned together from one state of the log."""

    inputs_hash = models.CharField(max_length=64, help_text="Everything the fit was learned from.")
    method_version = models.PositiveIntegerField()
    created_at = models.DateTimeField(default=timezone.now)
    published_at = models.DateTimeField(null=True, blank=True)
    pair_count = models.PositiveIntegerField()
    # Draws of what is shared, one posterior for each kind of instrument; see services.knowledge.
    wrist = models.BinaryField()
    session_rpe = models.BinaryField()
    time_alone = models.BinaryField()
    typical_histogram = models.BinaryField(help_text="Seconds at each whole bpm over the measured parts.")
    leftovers = models.JSONField(default=dict, help_text="What loads leave open of rates; core.leftovers.")
    # What the pages show of how the fit foretold its own pairs; see services.calibration.
    calibration = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "inputs_hash", "method_version"], name="one_fit_of_inputs"
            )
        ]

    def __str__(self) -> str:
        return f"fit of {self.pair_count} pairs"

    @property
    def source(self) -> str:
        """Name under which estimates of this fit are published."""
        return f"{self.method_version}/{self.inputs_hash[:48]}"


class Advice(models.TextChoices):
    """Whether a strap has to go on."""

    WRIST_WILL_DO = Verdict.WRIST_WILL_DO.value, "wrist will do"
    STRAP_ADVISED = Verdict.STRAP_ADVISED.value, "strap advised"
    STRAP_NEEDED = Verdict.STRAP_NEEDED.value, "strap needed"
    TOO_FEW_PAIRS = Verdict.TOO_FEW_PAIRS.value, "too few pairs"


class ErrorProfile(Owned):
    """How one tested sensor errs on one activity, under the firmware of its newest recording."""

    fit = models.ForeignKey(Fit, on_delete=models.CASCADE, related_name="profiles")
    sensor = models.ForeignKey(Sensor, on_delete=models.CASCADE, related_name="profiles")
    activity = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="profiles")
    firmware = models.CharField(max_length=40, blank=True, default="")
    pair_count = models.PositiveIntegerField()
    ratio = models.FloatField(help_text="Median of reference load over tested load.")
    ratio_low = models.FloatField(help_text="Lower bound of the 80% interval for one further session.")
    ratio_high = models.FloatField()
    within_ten = models.FloatField(
        help_text="Probability that a corrected load lies near the truth, as the athlete takes near."
    )
    raw_within_ten = models.FloatField(help_text="The same for the load as it stands.")
    agreement = models.JSONField(default=dict, help_text="Agreement over all usable pairs.")
    remarks = models.JSONField(default=list, help_text="Sentences on drift and on how pairs were chosen.")
    advice = models.CharField(max_length=14, choices=Advice)
    reason = models.TextField()

    class Meta:
        ordering = ["sensor__name", "activity__family", "activity__name"]
        constraints = [
            models.UniqueConstraint(fields=["fit", "sensor", "activity"], name="one_profile_a_cell")
        ]

    def __str__(self) -> str:
        return f"{self.sensor} on {self.activity}"


class StrapPlan(Owned):
    """How well a usual week is known under a fit, for its planned strap sessions to narrow.

    A usual week is one of the last eight before the newest workout.
    """

    fit = models.OneToOneField(Fit, on_delete=models.CASCADE, related_name="strap_plan")
    last_day = models.DateField(help_text="Of the weeks looked at: the newest workout's.")
    weeks = models.PositiveSmallIntegerField()
    parts = models.PositiveIntegerField(help_text="Parts in those weeks.")
    measured_parts = models.PositiveIntegerField()
    half_width = models.FloatField(
        help_text="Half-width of the 80% interval of a week over its load, sensor doubt only."
    )

    def __str__(self) -> str:
        return f"strap plan up to {self.last_day}"


class PlannedStrap(Owned):
    """What one more pair of a tested sensor and a strap in an activity is expected to bring."""

    plan = models.ForeignKey(StrapPlan, on_delete=models.CASCADE, related_name="rows")
    sensor = models.ForeignKey(Sensor, on_delete=models.CASCADE, related_name="+")
    activity = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="+")
    sessions_a_week = models.FloatField(help_text="Worn without a strap.")
    expected_half_width = models.FloatField(help_text="Of the week after one more pair, on average.")
    worn_half_width = models.FloatField(help_text="Of a week in which one such session wears the strap.")
    rank = models.PositiveSmallIntegerField(help_text="From 1: the one that brings most.")

    class Meta:
        ordering = ["rank"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "sensor", "activity"], name="one_planned_strap_a_cell")
        ]

    def __str__(self) -> str:
        return f"{self.rank}. {self.sensor} on {self.activity}"


class StrapGain(Owned):
    """What a planned strap session brought: the same parts of the same weeks, before and after.

    It outlives the fits that it compares.
    """

    sensor = models.ForeignKey(Sensor, on_delete=models.CASCADE, related_name="+")
    activity = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="+")
    day = models.DateField(help_text="Of the newest new pair.")
    pairs = models.PositiveSmallIntegerField(help_text="New pairs learned at once, in any activity.")
    expected_from = models.FloatField(help_text="Relative half-width of a week before.")
    expected_to = models.FloatField(help_text="What was expected after one pair.")
    came_to = models.FloatField(help_text="What it was once all new pairs were learned.")
    published_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-day", "-published_at", "activity__name"]

    def __str__(self) -> str:
        return f"gain of {self.sensor} on {self.activity}, {self.day}"


class LearningState(Owned):
    """Lease, attempts and last outcome of one athlete's learning: never two fits racing.

    A log has been learned when both ``learned_`` columns are those of the log and of the program.
    """

    claimed_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    failure = models.TextField(blank=True, default="")
    learned_revision = models.PositiveBigIntegerField(default=0, help_text="Log revision last published.")
    learned_method = models.PositiveIntegerField(default=0)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["owner"], name="one_learning_state")]

    def __str__(self) -> str:
        return f"learning of {self.owner}"


class Report(Owned):
    """Evidence on tested sensors as files to publish, made by a worker from the log as it then was."""

    class State(models.TextChoices):
        WAITING = "waiting", "being made"
        MADE = "made", "made"
        FAILED = "failed", "could not be made"

    sensors = models.ManyToManyField(Sensor, related_name="+", help_text="Tested sensors that it is about.")
    anonymised = models.BooleanField(
        "leave out names, days and places",
        default=True,
        help_text="Sensors become A, B, …; sessions are numbered.",
    )
    first_day = models.DateField("from", null=True, blank=True)
    last_day = models.DateField("until", null=True, blank=True)
    state = models.CharField(max_length=7, choices=State, default=State.WAITING)
    failure = models.TextField(blank=True, default="")
    attempts = models.PositiveSmallIntegerField(default=0)
    claimed_until = models.DateTimeField(null=True, blank=True)
    asked_at = models.DateTimeField(default=timezone.now)
    made_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-asked_at"]
        indexes = [models.Index(fields=["state", "claimed_until"])]

    def __str__(self) -> str:
        return f"report of {self.asked_at:%Y-%m-%d}"


class ReportFile(Owned):
    """One form of a report; rows, so that a report is whole or not there."""

    class Kind(models.TextChoices):
        HTML = "html", "one page for a browser"
        PDF = "pdf", "PDF"
        ZIP = "zip", "figures and data"

    report = models.ForeignKey(Report, on_delete=models.CASCADE, related_name="files")
    kind = models.CharField(max_length=4, choices=Kind)
    content = models.BinaryField()
    byte_count = models.PositiveIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["report", "kind"], name="one_file_a_kind")]

    def __str__(self) -> str:
        return f"{self.report} as {self.kind}"
