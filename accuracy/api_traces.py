"""Aligned traces of pairs for programs; the log's API mounts this router by its name."""

from __future__ import annotations

from django.shortcuts import get_object_or_404
from ninja import Router

from accuracy.services.pair_report import pairs_of, traces_of
from trainlog.api.seconds import hand_out
from trainlog.models import Athlete
from trainlog.services.second_by_second import Columns

router = Router()


def _columns_of(athlete: Athlete, id: int) -> Columns:
    pair = get_object_or_404(pairs_of(athlete), pk=id)
    reference, tested = traces_of(pair)
    return Columns(pair.part.start, {"reference_bpm": reference, "tested_bpm": tested})


hand_out(
    router,
    "/pairs/{id}/traces",
    "pair",
    _columns_of,
    "Hand out both traces of a pair, aligned, as {kind}: a row for each second of the part, its time in UTC, "
    "and heart rate in bpm by reference and tested sensor; empty where a second is not common.",
)
