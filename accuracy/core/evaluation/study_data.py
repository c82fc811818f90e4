"""The study folder of one athlete's sessions with two sensors: reading it, and putting a session on one grid.

The folder is not part of the project. Its second sensor is optical too, so what is computed from it is
agreement, never accuracy.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from trainlog.trace import FloatArray, to_whole_seconds

LONGEST_PAIRING_GAP = 5.0
"""Seconds between two reference samples across which the study's authors interpolate (folder's README)."""


@dataclass(frozen=True, eq=False)
class StudySession:
    """Both streams of one session as recorded.

    Attributes
    ----------
    session : int
        Number in the study.
    activity : str
        Kind of work, in the study's words.
    reference_times, tested_times : array, shape (samples,)
        Seconds since the earlier start of the two, increasing strictly.
    reference_hr, tested_hr : array, shape (samples,)
        Heart rate in bpm.
    """

    session: int
    activity: str
    reference_times: FloatArray
    reference_hr: FloatArray
    tested_times: FloatArray
    tested_hr: FloatArray

    def overlap(self) -> tuple[float, float]:
        """First and last second recorded by both streams."""
        first = max(self.reference_times[0], self.tested_times[0])
        last = min(self.reference_times[-1], self.tested_times[-1])
        return float(first), float(last)

    def at_tested_times(self) -> tuple[FloatArray, FloatArray]:
        """Pair reference and tested heart rate at every tested sample of the overlap, as the study does.

        Returns
        -------
        tuple of two arrays, shape (tested samples in the overlap,)
            The reference is interpolated, NaN in gaps above ``LONGEST_PAIRING_GAP``. No clock correction.
        """
        first, last = self.overlap()
        inside = (self.tested_times >= first) & (self.tested_times <= last)
        times = self.tested_times[inside]
        reference = to_whole_seconds(self.reference_times, self.reference_hr, times, LONGEST_PAIRING_GAP)
        return reference, self.tested_hr[inside]

    def at_whole_seconds(self) -> tuple[FloatArray, FloatArray]:
        """Put both heart rates on one 1 Hz grid over the overlap, gaps bridged as in any import.

        Returns
        -------
        tuple of two arrays, shape (seconds,)
            NaN in gaps longer than ``trainlog.trace.LONGEST_BRIDGED_GAP``. No clock correction.
        """
        first, last = self.overlap()
        grid = np.arange(np.ceil(first), np.floor(last) + 1)
        return (
            to_whole_seconds(self.reference_times, self.reference_hr, grid),
            to_whole_seconds(self.tested_times, self.tested_hr, grid),
        )


def sessions(folder: Path) -> list[StudySession]:
    """Every session of the study folder, in its order.

    Parameters
    ----------
    folder : Path
        Folder that holds ``native_streams.csv.gz`` and ``sessions.csv``.

    Returns
    -------
    list of StudySession
        Streams as recorded.

    Raises
    ------
    FileNotFoundError
        If the folder does not hold the two files.
    """
    streams = pd.read_csv(folder / "native_streams.csv.gz")
    table = pd.read_csv(folder / "sessions.csv")
    parts = dict(iter(streams.groupby(["session", "stream"])))

    def stream(session: int, name: str) -> tuple[FloatArray, FloatArray]:
        part = parts[session, name]
        return part["t_s"].to_numpy(dtype=float), part["hr"].to_numpy(dtype=float)

    return [
        StudySession(int(number), str(activity), *stream(number, "reference"), *stream(number, "wrist"))
        for number, activity in zip(table["session"], table["activity"], strict=True)
    ]
