"""Original bytes of every file, on disk before the upload is answered, named by their content."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from pathlib import Path

from django.conf import settings

ARRIVING = "arriving-"
"""Beginning of the name of a file that is still being written."""


def digest(content: bytes) -> str:
    """Content hash by which a file is known."""
    return hashlib.sha256(content).hexdigest()


LEAVING = "leaving"
"""Mark in the folder of an athlete whose rows are about to be deleted."""


def path_of(athlete_id: int, sha256: str) -> Path:
    """Where an athlete's original with this hash lies."""
    return folder_of(athlete_id) / sha256[:2] / sha256


def folder_of(athlete_id: int) -> Path:
    """Where all originals of an athlete lie."""
    return Path(settings.DATA_FOLDER) / "originals" / str(athlete_id)


def count(athlete_id: int) -> int:
    """Files that are kept for an athlete."""
    return sum(1 for path in folder_of(athlete_id).glob("??/*") if path.is_file())


def keep(athlete_id: int, content: bytes) -> str:
    """Write bytes durably: temporary file, fsync, rename, fsync of the folder.

    Returns
    -------
    str
        Content hash of the bytes. Keeping the same bytes again changes nothing.
    """
    sha256 = digest(content)
    path = path_of(athlete_id, sha256)
    if _is_kept(path, sha256):
        return sha256
    _make_folder(path.parent)
    with tempfile.NamedTemporaryFile(dir=path.parent, prefix=ARRIVING, delete=False) as file:
        try:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
            Path(file.name).rename(path)
        except BaseException:
            Path(file.name).unlink(missing_ok=True)
            raise
    _sync_folder(path.parent)
    return sha256


def read(athlete_id: int, sha256: str) -> bytes:
    """Original bytes, verified against their name.

    Raises
    ------
    FileNotFoundError
        If they are not there.
    ValueError
        If they no longer have the hash they were kept under.
    """
    content = path_of(athlete_id, sha256).read_bytes()
    if digest(content) != sha256:
        raise ValueError(f"the kept original {sha256[:12]} is damaged on disk; upload the file again")
    return content


def forget(athlete_id: int, sha256: str) -> None:
    """Remove an original; removing one that is not there changes nothing."""
    path_of(athlete_id, sha256).unlink(missing_ok=True)


def mark_leaving(athlete_id: int) -> None:
    """Mark durably that an athlete's rows are about to go, so that the files are found if this breaks off."""
    _make_folder(folder_of(athlete_id))
    (folder_of(athlete_id) / LEAVING).touch()
    _sync_folder(folder_of(athlete_id))


def stay(athlete_id: int) -> None:
    """Take the mark back."""
    (folder_of(athlete_id) / LEAVING).unlink(missing_ok=True)


def leaving() -> list[int]:
    """Athletes whose folder is marked."""
    marks = (Path(settings.DATA_FOLDER) / "originals").glob(f"*/{LEAVING}")
    return sorted(int(mark.parent.name) for mark in marks if mark.parent.name.isdecimal())


def forget_all(athlete_id: int) -> None:
    """Remove all originals of an athlete, the mark last."""
    folder = folder_of(athlete_id)
    for below in folder.glob("??"):
        shutil.rmtree(below)
    shutil.rmtree(folder, ignore_errors=True)


def _is_kept(path: Path, sha256: str) -> bool:
    """Whether the bytes are there and whole; damaged ones are replaced, as their refusal asks for."""
    try:
        # Before they are relied on: files that no row names are removed by age (keeping.original_files).
        os.utime(path)
        return digest(path.read_bytes()) == sha256
    except FileNotFoundError:
        return False


def _make_folder(folder: Path) -> None:
    """Make a folder and those above it, each entered durably in its parent."""
    if folder.is_dir():
        return
    _make_folder(folder.parent)
    folder.mkdir(mode=0o700, exist_ok=True)
    _sync_folder(folder.parent)


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
