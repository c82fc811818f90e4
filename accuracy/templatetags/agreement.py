"""Small helpers of the pages on agreement."""

from __future__ import annotations

from django import template

from trainlog.web.words import DASH

register = template.Library()


@register.filter
def size(value: float) -> str:
    """Size of a figure without its sign, to a tenth where it is not whole."""
    return f"{abs(value):.0f}" if abs(value) % 1 < 0.05 or abs(value) % 1 > 0.95 else f"{abs(value):.1f}"


@register.filter
def share(value: float | str | None) -> str:
    """Share (0 to 1) in per cent without the sign; what is there and rounds to nothing is "< 0.1"."""
    if value is None or isinstance(value, str):
        return DASH
    return f"{100 * value:.1f}" if value >= 0.0005 or value == 0 else "< 0.1"
