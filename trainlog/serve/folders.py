"""The folders that a running installation needs, and who may use them."""

from __future__ import annotations

import fcntl
import os
import shutil
import stat
from pathlib import Path

from trainlog.serve.holds import hold

LONGEST_SOCKET_PATH = 103
"""Bytes; Linux allows 107, macOS 103."""


class FolderRefused(Exception):
    """A folder cannot be used, and why."""


def hold_data_folder(data_folder: Path) -> int:
    """Take a data folder for this supervisor alone.

    Raises
    ------
    FolderRefused
        If another supervisor has it.
    """
    data_folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    descriptor = hold(data_folder / "lock")
    if descriptor is None:
        raise FolderRefused(
            f"{data_folder} is being served already. Stop that one first, or use another folder."
        )
    return descriptor


def make_private_folder(folder: Path) -> int:
    """Make the runtime folder, which only this account may enter.

    Returns
    -------
    int
        Descriptor that keeps cleaners of temporary files from emptying the folder while it is open.

    Raises
    ------
    FolderRefused
        If somebody else made it first, or others may enter it.
    """
    if len(os.fsencode(folder / "queue.sock")) > LONGEST_SOCKET_PATH:
        raise FolderRefused(f"{folder} is too long a path for a socket; point TMPDIR at a shorter one.")
    folder.mkdir(mode=0o700, exist_ok=True)
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode) or found.st_uid != os.getuid():
        raise FolderRefused(
            f"{folder} belongs to somebody else. Remove it, or set TMPDIR to a folder of yours."
        )
    if stat.S_IMODE(found.st_mode) & 0o077:
        raise FolderRefused(f"{folder} is open to other accounts. Remove it and start again.")
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC)
    fcntl.flock(descriptor, fcntl.LOCK_SH)
    return descriptor


def make_metrics_folder(runtime: Path) -> Path:
    """Make the folder anew in which the children keep their counts: they begin at zero with each start."""
    folder = runtime / "metrics"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder
