"""Where a person has signed in."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from trainlog.models.owned import Owned


class SignIn(Owned):
    """One browser that has signed in; its session names this row, and ends with it.

    The row knows nothing by which the session could be taken over, and no network address.
    """

    browser = models.CharField(max_length=60, help_text="Its family and system, in words.")
    began_at = models.DateTimeField(default=timezone.now)
    last_seen_at = models.DateTimeField(default=timezone.now)
    with_code = models.BooleanField(default=False, help_text="Whether a second step was taken too.")

    class Meta:
        ordering = ["-last_seen_at", "-pk"]

    def __str__(self) -> str:
        return self.browser
