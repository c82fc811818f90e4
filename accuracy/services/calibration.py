"""How a fit foretold its own pairs, as the pages show it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy import special

from accuracy.core.learning.leave_out import COVERAGES
from accuracy.core.learning.wrist_fit import Foretold, WristFit
from accuracy.models import Fit


def calibration_of(fit: WristFit, foretold: Sequence[Foretold], near: int) -> dict[str, Any]:
    """Figures of a fit's predictions of its own pairs, each pair's workout left out.

    Parameters
    ----------
    fit : WristFit
    foretold : sequence of Foretold
    near : int
        How near a load must be for this fit's advice, in per cent.

    Returns
    -------
    dict
        ``pairs``; ``covered``: by interval (per cent), the share of pairs inside (0 to 1);
        ``probabilities``: of the prediction lying below each pair, ten bins; ``by_cell``: pairs and scores
        of each instrument and activity; ``width``; ``log_scores``; ``weights`` by family; ``near_per_cent``.
    """
    scores = np.array([one.score for one in foretold])
    probabilities = special.ndtr(scores)
    bins = Counter(np.minimum(probabilities * 10, 9).astype(int).tolist())
    by_cell: dict[str, list[float]] = {}
    for one in foretold:
        cell = one.pair.session.cell
        by_cell.setdefault(f"{cell.instrument}/{cell.activity}", []).append(round(one.score, 3))
    return {
        "pairs": len(foretold),
        "covered": {
            f"{100 * coverage:.0f}": float(np.mean(np.abs(2 * probabilities - 1) <= coverage))
            for coverage in COVERAGES
            if len(foretold)
        },
        "probabilities": [bins.get(place, 0) for place in range(10)],
        "by_cell": by_cell,
        "width": fit.width,
        "log_scores": dict(fit.log_scores),
        "weights": fit.weights.round(4).tolist(),
        "near_per_cent": near,
    }


def near_per_cent(fit: Fit) -> int:
    """How near a load must be for the advice of a fit, in per cent; the setting may have changed since."""
    kept = fit.calibration.get("near_per_cent")
    return int(kept) if kept else fit.owner.near_per_cent
