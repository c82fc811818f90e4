"""Keys by which a program may send the same upload again without it being done twice."""

from __future__ import annotations

from datetime import timedelta

from django.db import models
from django.utils import timezone

from trainlog.models.owned import Owned

KEPT_FOR = timedelta(days=1)
"""How long the answer to a key is remembered."""


class UploadKey(Owned):
    """What a request with a key was answered; the same key with another request is refused."""

    key = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64, help_text="Of the request: its address and its body.")
    status = models.PositiveSmallIntegerField(null=True, help_text="Empty while it is being carried out.")
    answer = models.TextField(blank=True, default="")
    asked_at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["owner", "key"], name="one_request_a_key")]

    def __str__(self) -> str:
        return self.key
