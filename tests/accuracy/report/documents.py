"""An invented report in one line, with every kind of thing that a report may hold."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from accuracy.charts import identity_density, overlay
from accuracy.core.agreement import agreement_charts
from accuracy.report.document import Cell, Column, Document, Figure, Section, Table

COLUMNS = (
    Column("session", "session"),
    Column("mean of the reference", "reference_mean_bpm", "bpm", 1),
    Column("bias", "bias_bpm", "bpm", 1),
    Column("epochs", "epochs", "", 0),
)
ROWS: tuple[tuple[Cell, ...], ...] = (("A 1", 141.26, -6.43215678, 720), ("A 2", 133.0, None, 700))


def traces(seed: int = 1, minutes: int = 20) -> tuple[np.ndarray, np.ndarray]:
    """A reference that rises and falls, and a tested sensor that lags, reads low and loses a minute."""
    rng = np.random.default_rng(seed)
    seconds = np.arange(60 * minutes)
    reference = 130 + 25 * np.sin(2 * np.pi * seconds / 300) + rng.normal(0, 0.6, len(seconds))
    tested = np.roll(reference, 12) - 5 + rng.normal(0, 1.5, len(seconds))
    tested[200:260] = np.nan
    return reference, tested


def table(name: str = "sessions", rows: tuple[tuple[Cell, ...], ...] = ROWS, **changes: Any) -> Table:
    """Table of sessions."""
    fields = {"caption": "Mean heart rate of each session.", "columns": COLUMNS, "note": "95% intervals."}
    return Table(name=name, rows=rows, **(fields | changes))


def figure(name: str = "overlay-1", seed: int = 1, **changes: Any) -> Figure:
    """Overlay of a session."""
    fields = {
        "caption": "Heart rate of session A 1, reference and sensor A.",
        "spec": overlay(*traces(seed), []),
        "alternative": "Sensor A follows about 12 s late and reads 5 bpm low; it lost one minute.",
        "key": (("reference", "chest strap"), ("tested", "sensor A")),
    }
    return Figure(name=name, **(fields | changes))


def cloud() -> Figure:
    """Identity density of two sessions."""
    cells = agreement_charts.identity_density([traces(1), traces(2)]).as_dict()
    return Figure(
        name="density",
        caption="Every second of two sessions.",
        spec=identity_density(cells, epoch_seconds=1),
        alternative="Most seconds lie below the line of identity.",
        key=(("density", "the darker, the more seconds"), ("identity", "both read the same")),
    )


def document(**changes: Any) -> Document:
    """Report on an invented sensor."""
    fields: dict[str, Any] = {
        "title": "Sensor A against a chest strap",
        "subtitle": "Two sessions of one person",
        "made_on": date(2026, 3, 9),
        "summary": ("In 2 sessions of one person, sensor A read 5 bpm low.", "Two sessions prove little."),
        "sections": (
            Section("Sample", paragraphs=("Both sensors were worn together.",), tables=(table(),)),
            Section(
                "Agreement",
                figures=(cloud(),),
                sections=(Section("Overlays", figures=(figure(),)),),
            ),
        ),
        "data": (table("paired-traces", caption="Heart rate by the second.", note=""),),
        "references": ("Bland JM, Altman DG (1986). Lancet 327: 307–310.",),
        "colophon": "Version 0.1.0, method 7.",
    }
    return Document(**(fields | changes))
