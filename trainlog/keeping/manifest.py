"""What a backup says of itself."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass, field
from typing import Any

FORMAT = 1
MEMBER = "manifest.json"
NOT_INSIDE = ["secret key", "settings", "sessions of who is signed in"]

_SHA256 = re.compile(r"[0-9a-f]{64}")


class Damaged(Exception):
    """A backup that is not whole, or none at all, and what is wrong with it."""


@dataclass(frozen=True)
class Member:
    """One file inside a backup: its length in bytes and its hash."""

    bytes: int
    sha256: str


@dataclass(frozen=True)
class Table:
    """One table: where its rows are, and what they are to be once they are read back."""

    model: str
    member: str
    columns: list[str]
    rows: int
    values_sha256: str


@dataclass(frozen=True)
class Manifest:
    """Contents of a backup, in the order in which a reader needs them."""

    program: str
    made_at: str
    database: str
    migrations: list[list[str]]
    tables: list[Table]
    members: dict[str, Member]
    originals: dict[str, list[str]]
    missing_originals: dict[str, list[str]]
    not_inside: list[str] = field(default_factory=lambda: list(NOT_INSIDE))
    format: int = FORMAT

    @property
    def row_count(self) -> int:
        """Rows of all tables."""
        return sum(table.rows for table in self.tables)

    @property
    def original_count(self) -> int:
        """Originals inside."""
        return sum(map(len, self.originals.values()))

    @property
    def missing_count(self) -> int:
        """Originals that rows name and that were not there, or damaged."""
        return sum(map(len, self.missing_originals.values()))

    def as_json(self) -> bytes:
        """Text of the manifest."""
        return json.dumps(asdict(self), indent=1).encode()

    @classmethod
    def from_json(cls, text: bytes) -> Manifest:
        """Manifest of its text.

        Raises
        ------
        Damaged
            If it is none that this version can read.
        """
        try:
            said: dict[str, Any] = json.loads(text)
            if said["format"] != FORMAT:
                raise Damaged(
                    f"The backup has format {said['format']}; this version reads format {FORMAT}. "
                    "Restore it with the version that made it, or a newer one."
                )
            manifest = cls(
                **said
                | {
                    "tables": [Table(**table) for table in said["tables"]],
                    "members": {name: Member(**member) for name, member in said["members"].items()},
                }
            )
            if not all(map(_names_an_original, manifest.original_members())):
                raise Damaged("The manifest names originals in a way that none are named.")
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise Damaged("The manifest cannot be read.") from error
        return manifest

    def original_members(self) -> list[str]:
        """Names of the members that are originals."""
        return [
            member_of_original(owner, sha256) for owner, hashes in self.originals.items() for sha256 in hashes
        ]


def member_of_original(owner: int | str, sha256: str) -> str:
    """Where an athlete's original lies in a backup."""
    return f"originals/{owner}/{sha256}"


def _names_an_original(member: str) -> bool:
    _, owner, sha256 = member.split("/", 2)
    return owner.isdecimal() and _SHA256.fullmatch(sha256) is not None
