"""What the page of a sensor on an activity shows of the agreement over its sessions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from accuracy import charts
from accuracy.core.agreement.differences import EPOCHS
from accuracy.core.agreement.regression_limits import RegressionLimits
from accuracy.shown import condition_lines, figures, practice
from accuracy.shown.learned import PairLine
from accuracy.shown.pair import levels, slope_rows


def agreement_section(stored: Mapping[str, Any], lines: Sequence[PairLine], epoch: int) -> dict[str, Any]:
    """Agreement over sessions from what a profile keeps; empty where it keeps nothing at this epoch.

    Parameters
    ----------
    stored : mapping
        ``ErrorProfile.agreement``; see ``services.pooled_agreement``.
    lines : sequence of PairLine
        The page's pairs.
    epoch : int
        Seconds of an epoch.
    """
    key = str(epoch)
    pooled = (stored.get("epochs") or {}).get(key)
    if not pooled:
        return {}
    own = figures.of_pooled(pooled)
    sloped = _sloped(pooled)
    usable = [line for line in lines if line.pair.usable]
    marks = [
        charts.SessionMark(one["day"], one["mean_bpm"], one["difference_bpm"])
        for one in stored["session_means"][key]
    ]
    bias = own["bias"].value
    return {
        "pooled": pooled,
        "epoch": epoch,
        "epochs": EPOCHS,
        "pooled_reading": figures.reads(bias) if bias is not None else "",
        "sloped": sloped,
        "differences": charts.differences(
            stored["points"][key], levels(own), sloped=sloped, sessions=marks, epoch_seconds=epoch
        ),
        "of_epochs": stored["points"][key]["of_epochs"],
        "drawn_epochs": len(stored["points"][key]["mean_bpm"]),
        "density": charts.identity_density(stored["density"], epoch_seconds=1),
        "families": [
            practice.over_sessions(
                [line.pair.agreement for line in usable],
                [100 * (line.ratio - 1) for line in usable if line.ratio],
            ),
            *figures.families(own, pooled=True, slopes=slope_rows(sloped)),
        ],
        "by_intensity": condition_lines.lines(stored.get("by_intensity") or []),
        "by_direction": condition_lines.lines(stored.get("by_direction") or []),
        "study": [_study_line(line) for line in stored.get("study") or []],
        "sources": list(dict.fromkeys(line["asked_by"] for line in stored.get("study") or [])),
    }


def _study_line(line: Mapping[str, Any]) -> dict[str, Any]:
    """Line of the study summary, its source by its first words."""
    return {**line, "asked_by": line["asked_by"].partition(" (")[0]}


def _sloped(pooled: Mapping[str, Any]) -> RegressionLimits | None:
    """Limits that change with the rate, where the sessions say that the slope is not zero; else None."""
    kept = pooled.get("regression_limits") or {}
    low, high = kept.get("slope_interval") or (None, None)
    if low is None or high is None or None in kept.values() or low <= 0 <= high:
        return None
    return RegressionLimits(**(kept | {"slope_interval": (low, high)}))
