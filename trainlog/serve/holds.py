"""Files that a process holds for as long as it lives.

A lock on an open file goes with the process, however it ends, and is shared by the processes that
inherit the file. So a held file says that some process of ours is alive, with nothing to go stale.
"""

from __future__ import annotations

import fcntl
import os
import signal
import time
from contextlib import suppress
from pathlib import Path


def hold(path: Path) -> int | None:
    """Open a file and hold it.

    Returns
    -------
    int or None
        Descriptor that holds the file until every copy of it is closed; None if another process holds it.
    """
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(descriptor)
        return None
    return descriptor


def is_held(path: Path) -> bool:
    """Whether a living process holds a file."""
    if not path.exists():
        return False
    descriptor = hold(path)
    if descriptor is None:
        return True
    os.close(descriptor)
    return False


def wait_until_free(path: Path, seconds: float) -> bool:
    """Wait for the processes that hold a file to be gone; whether they went in time."""
    end = time.monotonic() + seconds
    while is_held(path):
        if time.monotonic() > end:
            return False
        time.sleep(0.02)
    return True


def end_leftovers(folder: Path, seconds: float = 10.0) -> list[str]:
    """End what an earlier supervisor left behind, where the kernel did not do so.

    Parameters
    ----------
    folder : Path
        Private folder with the hold files of the children; each tells its holder's process group.
    seconds : float
        Deadline for each.

    Returns
    -------
    list of str
        Names of the children that were ended.

    Raises
    ------
    TimeoutError
        If one is still there after the deadline.
    """
    ended = []
    for path in sorted(folder.glob("*.pid")):
        if is_held(path):
            # Held, so the number in it is a living process of ours and not somebody else's reused one.
            with suppress(ProcessLookupError, ValueError):
                os.killpg(int(path.read_text()), signal.SIGKILL)
            if not wait_until_free(path, seconds):
                raise TimeoutError(f"a process of an earlier start, noted in {path}, does not end")
            ended.append(path.stem)
        path.unlink(missing_ok=True)
    return ended
