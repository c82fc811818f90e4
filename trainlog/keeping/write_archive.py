"""One file that is whole or not there: a zip with zstandard-compressed rows, originals and a manifest."""

from __future__ import annotations

import hashlib
import io
import json
import os
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

import zstandard

from trainlog.keeping.manifest import MEMBER, Manifest, Member
from trainlog.keeping.values import PlainRow

LEVEL = 6
_PRIVATE = 0o600


class ArchiveWriter:
    """Adds members to an archive, and remembers the length and hash of each."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self._archive = archive
        self.members: dict[str, Member] = {}

    def add_rows(self, name: str, rows: Iterable[PlainRow]) -> None:
        """Add a table: one JSON list a line, compressed while they come."""
        with self._archive.open(_info(name, zipfile.ZIP_STORED), "w", force_zip64=True) as file:
            hashed = _Hashed(file)
            with zstandard.ZstdCompressor(level=LEVEL, write_checksum=True).stream_writer(
                hashed,  # type: ignore[arg-type]  # it asks for write() alone
                closefd=False,
            ) as compressed:
                for row in rows:
                    compressed.write(json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode())
                    compressed.write(b"\n")
        self.members[name] = hashed.member

    def add_bytes(self, name: str, content: bytes) -> None:
        """Add a file as it is; any zip program gets it out again."""
        self._archive.writestr(_info(name, zipfile.ZIP_DEFLATED), content)
        self.members[name] = Member(len(content), hashlib.sha256(content).hexdigest())

    def add_manifest(self, manifest: Manifest) -> None:
        """Add what the archive says of itself, last."""
        self._archive.writestr(_info(MEMBER, zipfile.ZIP_DEFLATED), manifest.as_json())


@contextmanager
def whole_or_not_there(path: Path, workspace: Path) -> Iterator[ArchiveWriter]:
    """Write an archive under a temporary name; it gets its own once it is whole and on disk.

    Parameters
    ----------
    path : Path
        Final name.
    workspace : Path
        Folder on the same disk.
    """
    unfinished = workspace / "unfinished.zip"
    try:
        with open(os.open(unfinished, os.O_RDWR | os.O_CREAT | os.O_TRUNC, _PRIVATE), "w+b") as file:
            with zipfile.ZipFile(file, "w") as archive:
                yield ArchiveWriter(archive)
            file.flush()
            os.fsync(file.fileno())
        unfinished.rename(path)
        _sync_folder(path.parent)
    finally:
        with suppress(FileNotFoundError):
            unfinished.unlink()


class _Hashed(io.RawIOBase):
    """Passes bytes on and hashes them."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self._hash = hashlib.sha256()
        self._bytes = 0

    def writable(self) -> bool:
        """Say that it can be written to."""
        return True

    def write(self, some: bytes) -> int:  # type: ignore[override]
        """Pass some bytes on."""
        self._hash.update(some)
        self._bytes += len(some)
        return self._file.write(some)

    @property
    def member(self) -> Member:
        """Length and hash of what has passed."""
        return Member(self._bytes, self._hash.hexdigest())


def _info(name: str, compression: int) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.compress_type = compression
    info.external_attr = _PRIVATE << 16
    return info


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
