"""One round: files are added, something goes wrong, and in the end the log is as if nothing had."""

from __future__ import annotations

import random
import threading
import time
from dataclasses import dataclass, field

from tests.faults.rounds.faults import MOST_WAIT, Fault
from tests.faults.rounds.files import FILES, HASHES, POISONED
from tests.faults.rounds.uploads import Uploads
from tests.faults.rounds.world import World
from tests.waiting import eventually
from trainlog.originals import digest

DEADLINE = 150.0
"""Seconds from the fault's end until everything is read and learned."""

LOOK_EVERY = 0.05


@dataclass
class Outcome:
    """How a round ended.

    Attributes
    ----------
    fault : str
    seconds : float
        From the first upload until all was learned.
    refusals : int
        Uploads that were not acknowledged and were sent again.
    wrong : list of str
        What differs from an undisturbed log; empty if nothing does.
    looks : int
        Times that the loads on show were looked at meanwhile.
    """

    fault: str
    seconds: float = 0.0
    refusals: int = 0
    wrong: list[str] = field(default_factory=list)
    looks: int = 0


class Watcher(threading.Thread):
    """Looks at what the pages show, again and again: a fit is on show whole or not at all."""

    def __init__(self, world: World, user: str) -> None:
        super().__init__(daemon=True)
        self.world, self.user = world, user
        self.over = threading.Event()
        self.seen: dict[str, set[tuple[str, str]]] = {}
        self.looks = 0

    def run(self) -> None:
        """Look until told to stop."""
        while not self.over.wait(LOOK_EVERY):
            try:
                source, loads, trend = self.world.state.shown(self.user)
            except Exception:
                continue
            self.looks += 1
            self.seen.setdefault(source, set()).add((loads, trend))

    def stop(self) -> dict[str, set[tuple[str, str]]]:
        """What was seen, by fit."""
        self.over.set()
        self.join(20)
        return self.seen


def undisturbed(world: World, user: str) -> dict[str, str]:
    """Digest of a log to which nothing happened."""
    uploads = Uploads(world.installation.port, world.sessions[user], FILES, random.Random(0))
    uploads.start()
    uploads.join()
    assert uploads.acknowledged == set(HASHES)
    eventually(lambda: world.state.has_settled(user), "everything is learned", seconds=DEADLINE)
    return world.state.digest(user)


def play(world: World, fault: Fault, user: str, expected: dict[str, str], seed: int) -> Outcome:
    """Play one round in a log of its own."""
    chance = random.Random(seed)
    outcome = Outcome(fault.name)
    files = FILES | ({"poisoned.csv": POISONED} if fault.poisons else {})
    uploads = Uploads(world.installation.port, world.sessions[user], files, chance)
    watcher = Watcher(world, user)
    begun = time.monotonic()
    watcher.start()
    uploads.start()
    time.sleep(chance.uniform(0, MOST_WAIT))
    fault.do(world, chance, user)
    uploads.join()
    try:
        eventually(lambda: _settled(world, user), "everything is learned", seconds=DEADLINE)
    except AssertionError as late:
        outcome.wrong.append(str(late))
    outcome.seconds = time.monotonic() - begun
    seen = watcher.stop()
    outcome.refusals, outcome.looks = uploads.refusals, watcher.looks
    outcome.wrong += _differences(world, user, expected, uploads, fault, seen)
    return outcome


def _settled(world: World, user: str) -> bool:
    try:
        return world.state.has_settled(user)
    except Exception:
        return False


def _differences(world, user, expected, uploads, fault, seen) -> list[str]:
    wrong = []
    lost = uploads.acknowledged - set(world.state.files(user))
    if lost:
        wrong.append(f"{len(lost)} acknowledged uploads lost")
    if not world.has_originals(user, uploads.acknowledged):
        wrong.append("an original is missing or damaged")
    if missing := {digest(content) for content in uploads.files.values()} - uploads.acknowledged:
        wrong.append(f"{len(missing)} uploads never acknowledged")
    found = world.state.digest(user)
    wrong += [
        f"{name}: {found[name]} instead of {expected[name]}"
        for name in expected
        if found[name] != expected[name]
    ]
    source, loads, trend = world.state.shown(user)
    if len(seen.get(source, set()) | {(loads, trend)}) > 1:
        wrong.append("loads of the published fit were shown before all of them were there")
    if fault.poisons:
        state, problem = world.state.files(user)[digest(POISONED)]
        if state != "refused" or not problem.startswith("Reading this file was begun 3 times"):
            wrong.append(f"the deadly file was not given up with words: {state}, {problem!r}")
    return wrong
