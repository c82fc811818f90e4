"""What a look at one thing of an installation found."""

from __future__ import annotations

from dataclasses import dataclass


def counted(count: int, word: str) -> str:
    """A number with its noun: 1 original, 2 originals."""
    return f"{count:,} {word}{'' if count == 1 else 's'}"


@dataclass(frozen=True)
class Finding:
    """One thing, how it stands in plain words, and how to mend it where it has to be."""

    name: str
    said: str
    remedy: str = ""

    @property
    def ok(self) -> bool:
        """Whether nothing has to be done."""
        return not self.remedy

    def __str__(self) -> str:
        line = f"{'ok' if self.ok else 'to mend':<8} {self.name}: {self.said}"
        return line if self.ok else f"{line} {self.remedy}"
