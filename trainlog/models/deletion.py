"""What was deleted lately, kept so that it can be put back."""

from __future__ import annotations

from datetime import timedelta

from django.db import models
from django.utils import timezone

from trainlog.models.owned import Owned

KEPT_FOR = timedelta(days=30)
"""How long a deletion can be undone."""


class Deletion(Owned):
    """Rows that one deletion took out of the log, and the originals that only they name.

    Rows leave their tables at once, so no page or sum has to leave them out.
    """

    what = models.CharField(max_length=200, help_text="In the words of the page: run of 24 November 2026.")
    deleted_at = models.DateTimeField(default=timezone.now)
    rows = models.BinaryField(help_text="Django's JSON of the rows, compressed; see services.deletions.")
    hashes = models.JSONField(
        default=list, help_text="Of originals that are kept until it can no longer be undone."
    )

    class Meta:
        ordering = ["-deleted_at"]
        indexes = [models.Index(fields=["owner", "deleted_at"]), models.Index(fields=["deleted_at"])]

    def __str__(self) -> str:
        return self.what
