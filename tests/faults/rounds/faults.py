"""What is done to an installation while it works. Each fault heals before it returns."""

from __future__ import annotations

import os
import random
import shutil
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from celery import Celery

from tests.faults.rounds.world import World
from tests.waiting import eventually
from trainlog.runtime_folder import runtime_folder

MOST_WAIT = 2.5
"""Seconds from the first upload within which a fault begins: files are read and learned from by then."""


@dataclass(frozen=True)
class Fault:
    """A thing that goes wrong.

    Attributes
    ----------
    name : str
    do : callable
        Does it to a world, for the log of a user.
    needs : callable
        Whether this machine and this world can have it.
    poisons : bool
        Whether a file that kills its reader is added to the others.
    """

    name: str
    do: Callable[[World, random.Random, str], None]
    needs: Callable[[World], bool] = lambda world: True
    poisons: bool = False


def _kill(pid: int) -> None:
    with suppress(ProcessLookupError):
        if pid:
            os.kill(pid, signal.SIGKILL)


def _children_of(pid: int) -> list[int]:
    with suppress(FileNotFoundError):
        return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    return []


def kill_a_reader_or_learner(world: World, chance: random.Random, user: str) -> None:
    """Kill -9 of one of the worker's processes."""
    for _ in range(2):
        children = _children_of(world.installation.pid("worker"))
        if children:
            _kill(chance.choice(children))
        time.sleep(chance.uniform(0, 0.8))


def kill_the_worker(world: World, chance: random.Random, user: str) -> None:
    """Kill -9 of the worker with all its processes."""
    pid = world.installation.pid("worker")
    for one in [pid, *_children_of(pid)]:
        _kill(one)


def kill_the_web(world: World, chance: random.Random, user: str) -> None:
    """Kill -9 of the web server's processes, amid an upload."""
    pid = world.installation.pid("web")
    for one in [*_children_of(pid), *([pid] if chance.random() < 0.5 else [])]:
        _kill(one)


def kill_the_sweeper_and_scheduler(world: World, chance: random.Random, user: str) -> None:
    """Kill -9 of whoever looks for lost work."""
    _kill(world.installation.pid("sweeper"))
    _kill(world.installation.pid("scheduler"))


def lose_the_queue(world: World, chance: random.Random, user: str) -> None:
    """Kill -9 of the queue, and all that waits in it is gone."""
    _kill(world.installation.pid("queue"))
    shutil.rmtree(world.installation.folder / "queue", ignore_errors=True)
    (world.installation.folder / "queue").mkdir(mode=0o700)


def kill_everything(world: World, chance: random.Random, user: str) -> None:
    """Kill -9 of all processes at once, as a power cut; then a start."""
    installation = world.installation
    assert installation.process is not None
    installation.process.kill()
    for pid in installation.processes():
        _kill(pid)
    installation.process.wait()
    time.sleep(chance.uniform(0, 0.5))
    shutil.rmtree(runtime_folder(installation.folder), ignore_errors=True)
    installation.start()


def kill_the_database(world: World, chance: random.Random, user: str) -> None:
    """Kill -9 of PostgreSQL; it is back after a moment."""
    assert world.server is not None
    world.server.kill()
    time.sleep(chance.uniform(0, 1.5))
    world.server.start()


def fill_the_disk(world: World, chance: random.Random, user: str) -> None:
    """Not a byte is free for a while."""
    end = time.monotonic() + chance.uniform(1, 3)
    while time.monotonic() < end:
        world.disk.fill()
        time.sleep(0.1)
    world.disk.empty()


def forbid_writing(world: World, chance: random.Random, user: str) -> None:
    """Nothing can be added to the originals for a while, as on a disk that turned read-only."""
    originals = world.installation.folder / "originals"
    originals.mkdir(exist_ok=True)
    _mount("--bind", str(originals), str(originals))
    try:
        eventually(lambda: _mount("-o", "remount,bind,ro", str(originals)), "a read-only folder")
        time.sleep(chance.uniform(1, 3))
    finally:
        eventually(lambda: _run("umount", "--lazy", str(originals)), "a folder as before")


def jump_the_clock(world: World, chance: random.Random, user: str) -> None:
    """Two days ahead, then an hour behind, then right again."""
    for seconds in (172_800, -3600, 0):
        world.set_clock(seconds)
        time.sleep(chance.uniform(0.5, 2))


def send_tasks_twice_and_in_any_order(world: World, chance: random.Random, user: str) -> None:
    """Wake workers again and again, for this log and for ones that are not there."""
    app = Celery("elsewhere", broker=world.broker, set_as_current=False)
    app.conf.task_routes = {
        "trainlog.tasks.read_next": {"queue": "imports"},
        "trainlog.tasks.sweep": {"queue": "sweep"},
        "accuracy.tasks.*": {"queue": "learning"},
    }
    key = world.state.key_of(user)
    wake_ups = [
        *[("trainlog.tasks.read_next", ())] * 20,
        *[("trainlog.tasks.read_next", (True,))] * 5,
        *[("accuracy.tasks.learn_athlete", (key,))] * 10,
        ("accuracy.tasks.learn_athlete", (10**9,)),
        *[("trainlog.tasks.sweep", ())] * 3,
    ]
    chance.shuffle(wake_ups)
    for name, arguments in wake_ups:
        app.send_task(name, args=arguments)
    app.close()


def nothing(world: World, chance: random.Random, user: str) -> None:
    """The fault is in a file: it kills whoever reads it."""


def _run(*command: str) -> bool:
    import subprocess

    return subprocess.run(command, capture_output=True, check=False).returncode == 0


def _mount(*arguments: str) -> bool:
    return _run("mount", *arguments)


FAULTS = (
    Fault("a worker's process killed", kill_a_reader_or_learner),
    Fault("web server killed amid uploads", kill_the_web),
    Fault("PostgreSQL killed", kill_the_database, needs=lambda world: world.server is not None),
    Fault("queue killed, its data lost", lose_the_queue),
    Fault("tasks doubled and reordered", send_tasks_twice_and_in_any_order),
    Fault("disk full", fill_the_disk, needs=lambda world: world.disk.mounted),
    Fault("originals read-only", forbid_writing, needs=lambda world: world.disk.mounted),
    Fault("clock jumped", jump_the_clock, needs=lambda world: world.can_jump),
    Fault("worker killed with all its processes", kill_the_worker),
    Fault("file that kills its reader", nothing, poisons=True),
    Fault("sweeper and scheduler killed", kill_the_sweeper_and_scheduler),
    Fault("everything killed at once", kill_everything),
)
