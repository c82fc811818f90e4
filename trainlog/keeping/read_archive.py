"""Reading a backup, and checking all of it."""

from __future__ import annotations

import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import zstandard

from trainlog.keeping.manifest import MEMBER, Damaged, Manifest, Table, member_of_original
from trainlog.keeping.values import PlainRow

_PIECE = 1 << 20
_BROKEN = (
    *(zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, zstandard.ZstdError),
    *(EOFError, KeyError, NotImplementedError, RuntimeError, UnicodeError),
)


class Archive:
    """An opened backup."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self._archive = archive
        with _telling_damage(MEMBER):
            text = archive.read(MEMBER)
        self.manifest = Manifest.from_json(text)

    def check(self) -> None:
        """Hold every member against the manifest, and the manifest against the members.

        Raises
        ------
        Damaged
            At the first thing that is wrong.
        """
        expected = self.manifest.members
        names = self._archive.namelist()
        if len(names) != len(set(names)) or set(names) != {*expected, MEMBER}:
            raise Damaged("The backup does not hold the members that its manifest names.")
        told = {*(table.member for table in self.manifest.tables), *self.manifest.original_members()}
        if told != set(expected):
            raise Damaged("The manifest contradicts itself.")
        for name, member in expected.items():
            length, sha256 = self._measure(name)
            if (length, sha256) != (member.bytes, member.sha256):
                raise Damaged(f"{name} is not as it was written.")
        for owner, hashes in self.manifest.originals.items():
            for sha256 in hashes:
                if expected[member_of_original(owner, sha256)].sha256 != sha256:
                    raise Damaged(f"The original {sha256[:12]} is not what its name says.")
        for table in self.manifest.tables:
            if sum(1 for _ in self.rows(table)) != table.rows:
                raise Damaged(f"{table.member} does not hold as many rows as the manifest says.")

    def rows(self, table: Table) -> Iterator[PlainRow]:
        """Rows of a table, in plain form, one after the other.

        Raises
        ------
        Damaged
            If they cannot be read.
        """
        with (
            _telling_damage(table.member),
            self._archive.open(table.member) as file,
            zstandard.ZstdDecompressor().stream_reader(file) as lines,
        ):
            rest = b""
            while piece := lines.read(_PIECE):
                *whole, rest = (rest + piece).split(b"\n")
                yield from (_row(line, table) for line in whole)
            if rest:
                raise Damaged(f"{table.member} ends in the middle of a row.")

    def original(self, owner: str, sha256: str) -> bytes:
        """Bytes of an original.

        Raises
        ------
        Damaged
            If they are not those that its name says.
        """
        name = member_of_original(owner, sha256)
        with _telling_damage(name):
            content = self._archive.read(name)
        if hashlib.sha256(content).hexdigest() != sha256:
            raise Damaged(f"The original {sha256[:12]} is not what its name says.")
        return content

    def _measure(self, name: str) -> tuple[int, str]:
        hashed = hashlib.sha256()
        length = 0
        with _telling_damage(name), self._archive.open(name) as file:
            while piece := file.read(_PIECE):
                hashed.update(piece)
                length += len(piece)
        return length, hashed.hexdigest()


@contextmanager
def opened(path: Path) -> Iterator[Archive]:
    """Open a backup.

    Raises
    ------
    Damaged
        If it is none.
    OSError
        If it cannot be read at all.
    """
    with _telling_damage(str(path)):
        archive = zipfile.ZipFile(path)
    with archive:
        yield Archive(archive)


def verify(path: Path) -> Manifest:
    """Read a whole backup and check everything in it.

    Raises
    ------
    Damaged
        If anything is not as it was written.
    """
    with opened(path) as archive:
        archive.check()
        return archive.manifest


def _row(line: bytes, table: Table) -> PlainRow:
    try:
        row = json.loads(line)
    except ValueError as error:
        raise Damaged(f"{table.member} holds a line that is no row.") from error
    if not isinstance(row, list) or len(row) != len(table.columns):
        raise Damaged(f"{table.member} holds a row of other columns.")
    return row


@contextmanager
def _telling_damage(what: str) -> Iterator[None]:
    try:
        yield
    except _BROKEN as error:
        raise Damaged(f"{what} cannot be read ({type(error).__name__}).") from error
