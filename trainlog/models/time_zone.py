"""Names of time zones as they are kept in tables."""

import zoneinfo

from django.core.exceptions import ValidationError


def check_time_zone(name: str) -> None:
    """Refuse a name that is no IANA time zone."""
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"“{name}” is no time zone; choose one such as Europe/Lisbon.")
