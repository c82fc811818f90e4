"""The evaluation on simulated athletes, spread over processes."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import pandas as pd

from accuracy.core.evaluation.simulated_log import Setting, evaluate_athlete


@dataclass(frozen=True, eq=False)
class SimulatedEvaluation:
    """Scores of every session and every method, and of every athlete's sum of 13 weeks."""

    rows: pd.DataFrame
    sums: pd.DataFrame


def evaluate_simulated(seeds: Iterable[int], setting: Setting, *, processes: int) -> SimulatedEvaluation:
    """Evaluate a setting on the athletes of some seeds.

    Parameters
    ----------
    seeds : iterable of int
    setting : Setting
    processes : int
    """
    # The matrices are small: threads of the linear algebra would only wait for each other. New processes
    # read how many there may be when they import it.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    fresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, mp_context=fresh) as pool:
        found = list(pool.map(partial(evaluate_athlete, setting=setting), seeds))
    return SimulatedEvaluation(
        pd.DataFrame([row for rows, _ in found for row in rows]),
        pd.DataFrame([row for _, sums in found for row in sums]),
    )
