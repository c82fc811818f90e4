"""Which parts have other loads than before: what programs that follow the estimates are told."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet

from trainlog.models import Athlete, LoadEstimate

Figures = dict[tuple[int, str], tuple[float, float, float]]
"""Low, median and high by part and measure."""


def changed_on_show(athlete: Athlete, source: str, loads: list[LoadEstimate]) -> set[int]:
    """Parts whose loads on show are about to change.

    Parameters
    ----------
    athlete : Athlete
    source : str
        Under which the loads are about to be written.
    loads : list of LoadEstimate
        Not written yet.

    Returns
    -------
    set of int
        Keys of the parts; empty while another source is shown.
    """
    if not Athlete.objects.filter(pk=athlete.pk, current_source=source).exists():
        return set()
    before = LoadEstimate.objects.of(athlete).filter(source=source, part__in={row.part_id for row in loads})
    return _others(_figures(_without_draws(before)), _figures(loads))


def changed_by(athlete: Athlete, before: str, after: str) -> set[int]:
    """Keys of the parts whose loads differ from one source to another, or are not in the one before."""
    rows = _without_draws(LoadEstimate.objects.of(athlete))
    return _others(_figures(rows.filter(source=before)), _figures(rows.filter(source=after)))


def _figures(loads: Iterable[LoadEstimate]) -> Figures:
    return {(row.part_id, row.measure): (row.low, row.median, row.high) for row in loads}


def _others(before: Figures, after: Figures) -> set[int]:
    return {key[0] for key, figures in after.items() if before.get(key) != figures}


def _without_draws(rows: QuerySet[LoadEstimate]) -> QuerySet[LoadEstimate]:
    return rows.only("part", "measure", "low", "median", "high")
