"""What was learned, as bytes for a database column and back."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import numpy as np

from accuracy.core.learning.drift import Drift
from accuracy.core.learning.feature_range import FeatureRange
from accuracy.core.learning.priors import FAMILIES, WRIST, Prior
from accuracy.core.learning.profile import CONSTANT, Cell, Form, Posterior, learn
from accuracy.core.learning.wrist_fit import CANDIDATES, KIND, WristFit

Arrays = dict[str, np.ndarray]


def posterior_as_bytes(learned: Posterior) -> bytes:
    """Draws of a posterior; ``posterior_from_bytes`` reads them."""
    return _pack(_posterior(learned))


def posterior_from_bytes(stored: bytes, prior: Prior, *, seed: int, kind: str) -> Posterior:
    """Posterior of plain pooled ratios from its stored draws."""
    with np.load(io.BytesIO(stored), allow_pickle=False) as held:
        return _read_posterior(held, "", prior, CONSTANT, seed, kind)


def wrist_fit_as_bytes(learned: WristFit) -> bytes:
    """Everything learned of the wrist; ``wrist_fit_from_bytes`` reads it."""
    arrays: Arrays = {
        "weights": learned.weights,
        "width": np.array(learned.width),
        "groups": np.array(list(learned.trace_coefficients), dtype=str),
        "trace": np.array(list(learned.trace_coefficients.values())),
        "scored": np.array(list(learned.log_scores), dtype=str),
        "scores": np.array(list(learned.log_scores.values()), dtype=float),
        "drifted": np.array(list(learned.drifts), dtype=str),
        "drifts": np.array([[one.from_day, one.change, one.after] for one in learned.drifts.values()]),
    }
    for place, posterior in enumerate(learned.candidates.values()):
        arrays |= _posterior(posterior, f"{place}/")
    return _pack(arrays)


def wrist_fit_from_bytes(stored: bytes, *, seed: int) -> WristFit:
    """Fit of the wrist from its stored draws."""
    with np.load(io.BytesIO(stored), allow_pickle=False) as held:
        return WristFit(
            candidates={
                form.name: _read_posterior(held, f"{place}/", WRIST, form, seed, KIND)
                for place, form in enumerate(CANDIDATES)
            },
            weights=held["weights"],
            width=float(held["width"]),
            trace_coefficients=dict(zip(map(str, held["groups"]), held["trace"], strict=True)),
            log_scores={
                str(name): float(score) for name, score in zip(held["scored"], held["scores"], strict=True)
            },
            drifts={
                str(group): Drift(int(day), float(change), int(after))
                for group, (day, change, after) in zip(held["drifted"], held["drifts"], strict=True)
            },
            prior=learn([], WRIST, seed=seed, kind=KIND),
        )


def _pack(arrays: Mapping[str, Any]) -> bytes:
    stored = io.BytesIO()
    np.savez_compressed(stored, **arrays)
    return stored.getvalue()


def _posterior(learned: Posterior, prefix: str = "") -> Arrays:
    cells = sorted(learned.counts, key=lambda cell: (cell.instrument, cell.firmware, cell.activity))
    arrays: Arrays = {
        "level_scales": learned.level_scales.astype("<f4"),
        "shared_noise": learned.shared_noise.astype("<f4"),
        "residual": np.array([learned.residual[family] for family in FAMILIES], dtype="<f4"),
        "names": np.array(list(learned.effects), dtype=str),
        "effects": np.array(list(learned.effects.values()), dtype="<f4"),
        "cells": np.array([[c.instrument, c.firmware, c.family, c.activity] for c in cells], dtype=str),
        "counts": np.array([learned.counts[cell] for cell in cells], dtype="<i4"),
        "groups": np.array(list(learned.ranges), dtype=str),
        "middles": np.array([one.middle for one in learned.ranges.values()], dtype="<f4"),
        "reaches": np.array([one.reach for one in learned.ranges.values()], dtype="<f4"),
    }
    return {f"{prefix}{name}": array for name, array in arrays.items()}


def _read_posterior(
    held: Mapping[str, np.ndarray], prefix: str, prior: Prior, form: Form, seed: int, kind: str
) -> Posterior:
    def read(name: str) -> np.ndarray:
        return held[f"{prefix}{name}"]

    ranges = zip(read("groups"), read("middles").astype(float), read("reaches").astype(float), strict=True)
    return Posterior(
        prior=prior,
        form=form,
        seed=seed,
        kind=kind,
        level_scales=read("level_scales").astype(float),
        shared_noise=read("shared_noise").astype(float),
        residual=dict(zip(FAMILIES, read("residual").astype(float), strict=True)),
        effects=dict(zip(map(str, read("names")), read("effects").astype(float), strict=True)),
        counts={
            Cell(*map(str, words)): int(count)
            for words, count in zip(read("cells"), read("counts"), strict=True)
        },
        ranges={str(group): FeatureRange(middle, reach) for group, middle, reach in ranges},
    )
