"""What a child runs, and what becomes of it when it ends."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

MOST_DEATHS = 5
"""Deaths within a minute after which a child is not started again."""
FIRST_PAUSE = 0.5
"""Seconds before the first restart; each further one waits twice as long."""


@dataclass(frozen=True)
class Program:
    """A program that the supervisor runs."""

    name: str
    command: tuple[str, ...]
    stage: int = 0
    """Place in the order of stopping; those of one stage are stopped together."""
    patience: float = 5.0
    """Seconds that it is given to end by itself."""
    unsaid: tuple[str, ...] = ()
    """Lines with these words in them are not shown."""
    remedy: str = ""
    """What a person can do if it will not run."""


@dataclass
class Deaths:
    """Unexpected ends of a child."""

    within: float = 60.0
    times: deque[float] = field(default_factory=deque)

    def count(self, now: float) -> None:
        """Note a death, and forget those that are long past."""
        self.times.append(now)
        while self.times[0] < now - self.within:
            self.times.popleft()

    @property
    def too_many(self) -> bool:
        """Whether another start is of no use."""
        return len(self.times) >= MOST_DEATHS

    @property
    def pause(self) -> float:
        """Seconds to wait before the next start."""
        return FIRST_PAUSE * 2.0 ** (len(self.times) - 1)
