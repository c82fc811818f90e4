"""Between which days anything can be logged, planned or asked for."""

from datetime import date

EARLIEST_DAY, LATEST_DAY = date(1970, 1, 1), date(2999, 12, 31)
"""Weeks, months and years can be counted on and back from every day between these, both included."""
