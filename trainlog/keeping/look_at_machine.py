"""The machine: Python, libraries, data folder, secret key."""

from __future__ import annotations

import os
import re
import shutil
import stat
import sys
import tempfile
from collections import defaultdict
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from django.conf import settings

from trainlog import secret_key
from trainlog.keeping.findings import Finding

PYTHONS = ((3, 11), (3, 13))
ENOUGH_SPACE = 1 << 30
"""Bytes that have to be free: a day of uploads and a snapshot for a backup."""

SHORTEST_KEY = 50
_LOCKED = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)\s*(;?)")
_MOST_NAMED = 4


def python() -> Finding:
    """Whether this Python is one that the program is tested with."""
    name, found = "Python", ".".join(map(str, sys.version_info[:3]))
    if PYTHONS[0] <= sys.version_info[:2] <= PYTHONS[1]:
        return Finding(name, found)
    return Finding(name, f"{found} is not one that the log is tested with.", "Use Python 3.11, 3.12 or 3.13.")


def libraries(lock: Path | None = None) -> Finding:
    """Whether the installed libraries are those of the lock file."""
    name = "libraries"
    lock = lock or Path(settings.BASE_DIR) / "requirements.lock"
    if not lock.exists():
        return Finding(name, f"there is no {lock.name} to hold them against.", "Install the program anew.")
    allowed: dict[str, set[str]] = defaultdict(set)
    always: set[str] = set()
    for line in lock.read_text().splitlines():
        if found := _LOCKED.match(line):
            allowed[found[1]].add(found[2])
            if not found[3]:
                always.add(found[1])
    other = [
        f"{package} {installed or 'is absent'}"
        for package, versions in allowed.items()
        if (installed := _installed(package)) not in versions and (installed or package in always)
    ]
    if not other:
        return Finding(name, f"{len(allowed)} as {lock.name} names them")
    some = ", ".join(other[:_MOST_NAMED]) + (", …" if len(other) > _MOST_NAMED else "")
    return Finding(
        name,
        f"{len(other)} are not as {lock.name} names them ({some}).",
        f"Run `python -m pip install --require-hashes -r {lock.name}`.",
    )


def data_folder() -> Finding:
    """Whether files can be kept there, and by this account alone."""
    name, folder = "data folder", Path(settings.DATA_FOLDER)
    try:
        with tempfile.NamedTemporaryFile(dir=folder, prefix=".doctor-") as file:
            file.write(b"x")
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        return Finding(
            name,
            f"nothing can be written into {folder} ({error.strerror}).",
            "Free the disk, or give the folder to the account that runs the log.",
        )
    if stat.S_IMODE(folder.stat().st_mode) & 0o077:
        return Finding(name, f"other accounts may look into {folder}.", f"Run `chmod 700 {folder}`.")
    return Finding(name, f"{folder} can be written to, by this account alone")


def space() -> Finding:
    """Whether there is room on the disk."""
    free = shutil.disk_usage(settings.DATA_FOLDER).free
    said = f"{free / (1 << 30):.1f} GB free"
    if free >= ENOUGH_SPACE:
        return Finding("space", said)
    return Finding("space", f"only {said}.", "Free some, or move the data folder to a larger disk.")


def key() -> Finding:
    """Whether there is a secret key that cannot be guessed or read by others."""
    name, file = "secret key", Path(settings.DATA_FOLDER) / secret_key.FILE_NAME
    if file.exists() and stat.S_IMODE(file.stat().st_mode) & 0o077:
        return Finding(name, f"other accounts may read {file}.", f"Run `chmod 600 {file}`.")
    if len(settings.SECRET_KEY) < SHORTEST_KEY:
        return Finding(
            name,
            f"it is shorter than {SHORTEST_KEY} characters.",
            "Set TRAINLOG_SECRET_KEY to fifty random characters; everyone signs in again.",
        )
    return Finding(name, "there, and read by this account alone")


def passwords() -> Finding:
    """Whether new passwords are kept as Argon2 hashes."""
    if _installed("argon2-cffi") is None:
        return Finding(
            "passwords", "the Argon2 library is absent.", "Run `python -m pip install argon2-cffi`."
        )
    if not settings.PASSWORD_HASHERS[0].endswith("Argon2PasswordHasher"):
        return Finding(
            "passwords",
            "new ones are not kept as Argon2 hashes.",
            "Put Django's Argon2PasswordHasher first in PASSWORD_HASHERS.",
        )
    return Finding("passwords", "kept as Argon2 hashes")


def _installed(package: str) -> str | None:
    try:
        return version(package)
    except PackageNotFoundError:
        return None
