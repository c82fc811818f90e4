"""Waiting for what other processes do, with a deadline."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

LONG = 60.0


def eventually(question: Callable[[], Any], what: str, seconds: float = LONG) -> Any:
    """Ask until the answer is true, and give it; fail after the deadline."""
    end = time.monotonic() + seconds
    while not (answer := question()):
        assert time.monotonic() < end, f"not within {seconds:.0f} s: {what}"
        time.sleep(0.1)
    return answer
