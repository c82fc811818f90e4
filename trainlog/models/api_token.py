"""Tokens by which a program acts for an athlete."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from trainlog.models.owned import Owned


class ApiToken(Owned):
    """Permission for one program, until a day; what it says is shown once and kept nowhere."""

    class Scope(models.TextChoices):
        READ = "read", "read"
        WRITE = "write", "read and change"

    name = models.CharField(max_length=60, help_text="Which program it is for.")
    beginning = models.CharField(max_length=12, help_text="Its first characters, to tell it by.")
    sha256 = models.CharField(max_length=64, unique=True)
    scope = models.CharField("may", max_length=5, choices=Scope, default=Scope.READ)
    created_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return self.name
