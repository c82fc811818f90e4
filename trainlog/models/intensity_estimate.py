"""Time by intensity of one part: a plain result like its load, and of the same draws."""

from __future__ import annotations

import numpy as np
from django.db import models

from trainlog.load.draws import DRAWS
from trainlog.models.owned import Owned
from trainlog.models.workout import Part
from trainlog.trace import FloatArray


def minutes_bytes(minutes: FloatArray) -> bytes:
    """Draws of minutes, shape (DRAWS, kinds), for a database column.

    Exact to two seconds in a hundred minutes.
    """
    return np.asarray(minutes, dtype="<f2").tobytes()


class IntensityEstimate(Owned):
    """Minutes of one part in bands and domains of intensity, under one version of what was learned.

    Draw k belongs to draw k of the part's loads.
    """

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="intensities")
    source = models.CharField(max_length=64, help_text="Version of what was learned; opaque to the log.")
    bands = models.BinaryField(help_text="Minutes in each of load.intensity.BANDS_OF_RESERVE.")
    bands_of_maximum = models.BinaryField(help_text="Minutes in each of load.intensity.BANDS_OF_MAXIMUM.")
    domains = models.BinaryField(help_text="Minutes in each of load.intensity.DOMAINS.")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["part", "source"], name="one_intensity_a_source")]
        indexes = [models.Index(fields=["owner", "source"])]

    def __str__(self) -> str:
        return f"intensity of {self.part}"

    @property
    def minutes_in_bands(self) -> FloatArray:
        """Draws of minutes, shape (DRAWS, 5)."""
        return _minutes(self.bands)

    @property
    def minutes_in_domains(self) -> FloatArray:
        """Draws of minutes, shape (DRAWS, 3)."""
        return _minutes(self.domains)


def _minutes(stored: bytes | memoryview) -> FloatArray:
    return np.frombuffer(stored, dtype="<f2").astype(np.float64).reshape(DRAWS, -1)
