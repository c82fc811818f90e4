"""Which planned session was met by which part of a workout, told from days and activities alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum


class State(Enum):
    """What became of a planned session, in words."""

    DONE = "done"
    OTHERWISE = "done otherwise"
    MISSED = "missed"
    TO_COME = "to come"


@dataclass(frozen=True)
class Session:
    """A session that was meant, or a part that was done: its local day and its kind of work."""

    day: date
    activity: int
    family: str


def match(meant: Sequence[Session], did: Sequence[Session]) -> list[int | None]:
    """Find for each planned session the part that meets it.

    Parameters
    ----------
    meant, did : sequence of Session
        Planned sessions, and parts of workouts.

    Returns
    -------
    list of int or None
        For each planned session the place of a part of its day, of the same activity before one of the same
        family. A part meets one planned session at most, and as many sessions are met as can be.
    """
    met: list[int | None] = [None] * len(meant)
    free = list(range(len(did)))
    for alike in (_same_activity, _same_family):
        for place, session in enumerate(meant):
            found = next((part for part in free if alike(session, did[part])), None)
            if met[place] is None and found is not None:
                met[place] = found
                free.remove(found)
    return met


def state(meant: Session, did: Session | None, today: date) -> State:
    """What became of a planned session, given the part that meets it."""
    if did is not None:
        return State.DONE if _same_activity(meant, did) else State.OTHERWISE
    return State.MISSED if meant.day < today else State.TO_COME


def _same_activity(meant: Session, did: Session) -> bool:
    return (meant.day, meant.activity) == (did.day, did.activity)


def _same_family(meant: Session, did: Session) -> bool:
    return (meant.day, meant.family) == (did.day, did.family)
