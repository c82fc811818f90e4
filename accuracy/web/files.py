"""Handing out rows as CSV and figures as JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from typing import Any

from django.http import HttpResponse


def csv_file(rows: Iterable[Sequence[Any]], name: str) -> HttpResponse:
    """Rows as a text file of comma-separated values; None is an empty cell."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return _file(text.getvalue(), "text/csv; charset=utf-8", name)


def json_file(figures: Any, name: str) -> HttpResponse:
    """Figures as a JSON file that a person can read too."""
    text = json.dumps(figures, indent=1, ensure_ascii=False, allow_nan=False)
    return _file(text + "\n", "application/json", name)


def _file(text: str, kind: str, name: str) -> HttpResponse:
    return HttpResponse(
        text, content_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
