"""A part's load in every measure, side by side and never added up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from trainlog.models import Athlete, LoadEstimate, Measure, Part


def in_every_measure(athlete: Athlete, parts: Iterable[Part]) -> Mapping[int, Sequence[LoadEstimate]]:
    """Estimates on show of some parts in all measures, by the part's key, without their draws.

    Parameters
    ----------
    athlete : Athlete
    parts : iterable of Part
        The athlete's own.

    Returns
    -------
    mapping of int to sequence of LoadEstimate
        In the order of ``Measure``; nothing for a part that was never estimated.
    """
    order = list(Measure.values)
    found: dict[int, list[LoadEstimate]] = {}
    rows = (
        LoadEstimate.objects.of(athlete)
        .filter(part__in=[part.pk for part in parts], source=athlete.current_source)
        .defer("all_draws", "sensor_draws", "physiology_draws")
    )
    for estimate in sorted(rows, key=lambda row: order.index(row.measure)):
        found.setdefault(estimate.part_id, []).append(estimate)
    return found
