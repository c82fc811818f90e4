"""Counts and points that agreement charts are drawn from; nothing here draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from accuracy.core.agreement.differences import paired_epochs, plain
from trainlog.trace import FloatArray

LOWEST_BIN, HIGHEST_BIN, BIN_BPM = 30, 230, 2
"""Range and width in bpm of the cells of the identity density."""


@dataclass(frozen=True, eq=False)
class IdentityDensity:
    """How often which reference rate met which tested rate.

    Attributes
    ----------
    edges : array, shape (cells + 1,)
        bpm; the same for both axes, lower edge included. Rates beyond count in the outermost cells.
    counts : array of int, shape (cells, cells)
        Epochs by reference (first axis) and tested rate.
    """

    edges: FloatArray
    counts: np.ndarray

    def as_dict(self) -> dict:
        """Cells that hold anything: lower edges in bpm, and count."""
        at = np.argwhere(self.counts)
        return plain(
            {
                "reference_bpm": self.edges[at[:, 0]],
                "tested_bpm": self.edges[at[:, 1]],
                "epochs": self.counts[at[:, 0], at[:, 1]],
                "cell_bpm": BIN_BPM,
            }
        )


@dataclass(frozen=True, eq=False)
class DifferencePlot:
    """Points of a difference plot.

    Attributes
    ----------
    mean, difference : array, shape (points,)
        Mean of both rates, and tested minus reference, bpm.
    session : array of int, shape (points,)
        Place of the point's session among those given.
    of_epochs : int
        Epochs that the points were taken from, evenly.
    """

    mean: FloatArray
    difference: FloatArray
    session: np.ndarray
    of_epochs: int

    def as_dict(self) -> dict:
        """Points by column, ready for JSON."""
        return plain(
            {
                "mean_bpm": self.mean,
                "difference_bpm": self.difference,
                "session": self.session,
                "of_epochs": self.of_epochs,
            }
        )


def identity_density(
    pairs: Sequence[tuple[FloatArray, FloatArray]], *, epoch_seconds: int = 1
) -> IdentityDensity:
    """Count epochs by reference and tested rate over one or more pairs.

    Parameters
    ----------
    pairs : sequence of (reference, tested)
        Heart rate in bpm at 1 Hz, NaN for gaps.
    epoch_seconds : int
        Length of the epochs whose means are counted.

    Returns
    -------
    IdentityDensity
        Cells of 2 bpm.
    """
    edges = np.arange(LOWEST_BIN, HIGHEST_BIN + BIN_BPM, BIN_BPM, dtype=float)
    cells = len(edges) - 1
    counts = np.zeros(cells * cells, dtype=np.int64)
    for reference, tested in pairs:
        x, y = paired_epochs(reference, tested, epoch_seconds)
        both = np.isfinite(x) & np.isfinite(y)
        row, column = (
            ((values[both] - LOWEST_BIN) // BIN_BPM).clip(0, cells - 1).astype(np.int64) for values in (x, y)
        )
        counts += np.bincount(row * cells + column, minlength=cells * cells)
    return IdentityDensity(edges, counts.reshape(cells, cells))


def difference_plot(
    pairs: Sequence[tuple[FloatArray, FloatArray]], *, epoch_seconds: int = 5, most: int = 2000
) -> DifferencePlot:
    """Mean and difference of epochs, thinned evenly to at most ``most`` points.

    Parameters
    ----------
    pairs : sequence of (reference, tested)
        Heart rate in bpm at 1 Hz, NaN for gaps.
    epoch_seconds : int
        Length of an epoch.
    most : int
        Points wanted at most; every n-th epoch is kept, without chance.

    Returns
    -------
    DifferencePlot
        In order of sessions and time.

    Raises
    ------
    ValueError
        If ``most`` is below 1.
    """
    if most < 1:
        raise ValueError("a plot has at least one point")
    means: list[FloatArray] = [np.empty(0)]
    differences: list[FloatArray] = [np.empty(0)]
    sessions = [np.empty(0, dtype=np.int64)]
    for number, (reference, tested) in enumerate(pairs):
        x, y = paired_epochs(reference, tested, epoch_seconds)
        both = np.isfinite(x) & np.isfinite(y)
        means.append((x[both] + y[both]) / 2)
        differences.append(y[both] - x[both])
        sessions.append(np.full(int(both.sum()), number, dtype=np.int64))
    mean, difference, session = np.concatenate(means), np.concatenate(differences), np.concatenate(sessions)
    step = max(-(-len(mean) // most), 1)
    return DifferencePlot(mean[::step], difference[::step], session[::step], len(mean))
