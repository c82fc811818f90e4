"""The measures of load: all are computed for every part, and no sum mixes two of them."""

from django.db import models


class Measure(models.TextChoices):
    """How work is turned into load; the unit of each is its own."""

    TRIMP = "trimp", "training impulse (Banister)"
    ZONES = "zones", "summated zones (Edwards)"
    THREE_ZONES = "three_zones", "three zones (Lucia)"
    SESSION_RPE = "session_rpe", "session-RPE (Foster)"
