"""How a kept week of the trend is stored: figures to show, what the week held, and the state after it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import astuple, fields

import numpy as np
from numpy.typing import NDArray

from trainlog.load.draws import DRAWS
from trainlog.load.trend import TrendDays, TrendState
from trainlog.load.trend_figures import FIGURES, WEEK_DAYS
from trainlog.services.held import COUNTED, KINDS_OF_DOUBT, Held
from trainlog.trace import FloatArray

FORM = 2
"""Raise it when the same daily loads would give other bytes: every week is then written anew."""

HASH_BYTES = 8

KEPT_WEEK = np.dtype(
    [
        ("figures", "<f4", (WEEK_DAYS, len(FIGURES), 3)),
        ("draws", "<f4", (KINDS_OF_DOUBT, DRAWS)),
        ("counts", "<f8", (len(COUNTED),)),
    ]
)
"""What is read of a week: figures of its days, and what it held."""


def day_hash(spans: TrendDays, mark: str, load: FloatArray, described: str) -> bytes:
    """Hash of all that one day of the trend is made from, given the days before it.

    Parameters
    ----------
    spans : TrendDays
        Of the averages and responses.
    mark : str
        Whether the day is before the log, its first, unknown or plain.
    load : array, shape (DRAWS,)
        Load of the day, drawn where it is unknown.
    described : str
        What else is kept of the day's parts.
    """
    digest = hashlib.blake2b(digest_size=HASH_BYTES)
    digest.update(f"{FORM}/{astuple(spans)}/{mark}/{described}/".encode())
    digest.update(np.asarray(load, "<f8").tobytes())
    return digest.digest()


def week_bytes(figures: FloatArray, held: Held) -> bytes:
    """Seven days of figures, shape (7, figures, 3), and what the week held."""
    return np.array((figures, held.draws, held.counts), KEPT_WEEK).tobytes()


def weeks_of(stored: Iterable[bytes | memoryview]) -> NDArray[np.void]:
    """Kept weeks as an array of ``KEPT_WEEK``, in the order given."""
    return np.frombuffer(b"".join(map(bytes, stored)), KEPT_WEEK)


def held_in_weeks(weeks: NDArray[np.void]) -> Held:
    """What kept weeks held together."""
    return Held(weeks["draws"].sum(axis=0, dtype=np.float64), weeks["counts"].sum(axis=0))


def state_bytes(state: TrendState) -> bytes:
    """State after a week in full precision: a continuation from it is equal to the bit to the whole."""
    return np.stack([getattr(state, field.name) for field in fields(state)]).astype("<f8").tobytes()


def state_of(stored: bytes | memoryview) -> TrendState:
    """State after a kept week."""
    return TrendState(*np.frombuffer(stored, "<f8").reshape(len(fields(TrendState)), DRAWS))
