"""Where processes of one machine keep their counts, so that whichever of them is asked can add them up."""

from __future__ import annotations

import os
import socket
from contextlib import suppress
from pathlib import Path

from billiard.process import current_process
from django.conf import settings
from prometheus_client import CollectorRegistry, multiprocess, values

RESERVED = 1024 * 1024
"""Bytes of a process's file. They are taken from the disk before the file is mapped into memory: a write to a
page that a full disk cannot give would end the process."""

KINDS = ("counter", "histogram")

FOLDER: Path | None = settings.METRICS_FOLDER


class _Slot:
    """What this process is called, and whether it may count."""

    role = "web"
    pid = 0
    may_count = True


def take_role(role: str) -> None:
    """Say what this process and those that it forks do, such as ``read@machine``."""
    _Slot.role = role.partition("@")[0]


def name() -> str:
    """Name that no other running process has, on this machine or in a container beside it.

    A process of a pool takes over the name, and so the counts, of the one whose place it takes: files do not
    grow in number as processes are replaced.
    """
    place = getattr(current_process(), "index", None)
    return f"{socket.gethostname()}-{_Slot.role}-{os.getpid() if place is None else f'place{place}'}"


def may_count() -> bool:
    """Whether this process has its files: without space for them nothing is counted, and all else goes on."""
    if FOLDER is not None and _Slot.pid != os.getpid():
        _Slot.pid = os.getpid()
        try:
            for kind in KINDS:
                _reserve(FOLDER / f"{kind}_{name()}.db")
            _Slot.may_count = True
        except OSError:
            _Slot.may_count = False
    return _Slot.may_count


def registry(own: CollectorRegistry) -> CollectorRegistry:
    """Counts of all processes of this machine, or of this one where they share no folder.

    Parameters
    ----------
    own : CollectorRegistry
        That of this process.
    """
    if FOLDER is None or not FOLDER.is_dir():
        return own
    together = CollectorRegistry()
    multiprocess.MultiProcessCollector(together, str(FOLDER))
    return together


def _reserve(path: Path) -> None:
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        if hasattr(os, "posix_fallocate"):
            os.posix_fallocate(descriptor, 0, RESERVED)
        elif os.fstat(descriptor).st_size == 0:
            os.write(descriptor, bytes(RESERVED))
    except OSError:
        with suppress(OSError):
            path.unlink()
        raise
    finally:
        os.close(descriptor)


if FOLDER is not None:
    with suppress(OSError):
        FOLDER.mkdir(mode=0o700, parents=True, exist_ok=True)
    os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(FOLDER)
    # Chosen before the first figure is made; the library's own choice is made when it is imported.
    values.ValueClass = values.MultiProcessValue(name)
