"""Dates and months in addresses."""

from datetime import date


class IsoDateConverter:
    """A date such as 2026-03-01."""

    regex = r"\d{4}-\d{2}-\d{2}"

    def to_python(self, value: str) -> date:
        """Date of the text; a date that does not exist is a ValueError, and so a 404."""
        return date.fromisoformat(value)

    def to_url(self, value: date) -> str:
        """Text of the date."""
        return value.isoformat()


class IsoMonthConverter:
    """A month such as 2026-03, as its first day."""

    regex = r"\d{4}-\d{2}"

    def to_python(self, value: str) -> date:
        """First day of the month; a month that does not exist is a ValueError, and so a 404."""
        return date.fromisoformat(f"{value}-01")

    def to_url(self, value: date) -> str:
        """Text of the month in which a day lies."""
        return value.isoformat()[:7]
