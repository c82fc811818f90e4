"""Estimates of load: plain results, written by the app that learns and read by everyone."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from trainlog.load import draws
from trainlog.models.measure import Measure
from trainlog.models.owned import Owned
from trainlog.models.workout import Part
from trainlog.trace import FloatArray


class Basis(models.TextChoices):
    """Where a load came from."""

    MEASURED = "measured", "measured"
    ACCEPTED = "accepted", "accepted"
    CORRECTED = "corrected", "corrected"
    COMBINED = "combined", "combined"
    REPORTED = "reported", "reported"
    UNCORRECTED = "uncorrected", "uncorrected"
    MISSING = "missing", "missing"


class Confidence(models.TextChoices):
    """Half-width of the 80% interval over the median, sensor doubt only."""

    FIRM = "firm", "firm"
    FAIR = "fair", "fair"
    LOOSE = "loose", "loose"
    UNKNOWN = "unknown", "unknown"

    @classmethod
    def of(cls, half_width: float) -> Confidence:
        """Confidence of a relative half-width: firm to 10%, fair to 20%, loose to 35%."""
        for limit, confidence in ((0.10, cls.FIRM), (0.20, cls.FAIR), (0.35, cls.LOOSE)):
            if half_width <= limit:
                return confidence
        return cls.UNKNOWN


class LoadEstimate(Owned):
    """Load of one part in one measure, under one version of what was learned."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="estimates")
    measure = models.CharField(max_length=20, choices=Measure, default=Measure.TRIMP)
    source = models.CharField(max_length=64, help_text="Version of what was learned; opaque to the log.")
    method_version = models.PositiveIntegerField()
    input_revision = models.PositiveIntegerField()
    computed_at = models.DateTimeField(default=timezone.now)

    basis = models.CharField(max_length=12, choices=Basis)
    confidence = models.CharField(max_length=10, choices=Confidence)
    reason = models.TextField()
    raw = models.FloatField(null=True, help_text="Load of the recording as it stands, without correction.")
    low = models.FloatField(help_text="Lower bound of the 80% interval, all doubt.")
    median = models.FloatField()
    high = models.FloatField()
    sensor_half_width = models.FloatField(help_text="Half-width over median, sensor doubt only.")
    # Three vectors in the same order of draws: all doubt; the sensor's alone, with physiology at its
    # central values; the physiology's alone, with the sensor at its median.
    all_draws = models.BinaryField()
    sensor_draws = models.BinaryField()
    physiology_draws = models.BinaryField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["part", "measure", "source"], name="one_estimate_a_source")
        ]
        indexes = [models.Index(fields=["owner", "source"])]

    def __str__(self) -> str:
        return f"{self.median:.0f} ({self.low:.0f}–{self.high:.0f}), {self.basis}"

    @property
    def load(self) -> FloatArray:
        """Draws with all doubt, shape (DRAWS,)."""
        return draws.unpack(self.all_draws)

    @property
    def load_by_sensor_doubt(self) -> FloatArray:
        """Draws with the sensor's doubt alone, shape (DRAWS,)."""
        return draws.unpack(self.sensor_draws)

    @property
    def load_by_physiology_doubt(self) -> FloatArray:
        """Draws with the doubt of resting and maximum heart rate alone, shape (DRAWS,)."""
        return draws.unpack(self.physiology_draws)
