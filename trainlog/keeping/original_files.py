"""Originals on disk held against the rows that name them."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from django.conf import settings

from trainlog import originals
from trainlog.keeping.tables import named_originals

OLD = 86_400.0
"""Seconds; what nobody names may be an upload whose row is about to be written, until it is this old."""

LEAVING = "leaving-"
"""Beginning of the name of a file that is about to be removed."""

_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass
class OriginalsFound:
    """What was found; paths are those of files under the data folder."""

    whole: int = 0
    missing: list[tuple[int, str]] = field(default_factory=list)
    damaged: list[tuple[int, str]] = field(default_factory=list)
    orphans: list[Path] = field(default_factory=list)
    temporary: list[Path] = field(default_factory=list)
    unknown: list[Path] = field(default_factory=list)

    @property
    def ok(self) -> bool:
        """Whether every original that a row names is there and whole."""
        return not self.missing and not self.damaged


def check_originals() -> OriginalsFound:
    """Read every original that a row names, and list the files that none names."""
    found = OriginalsFound()
    for owner, hashes in sorted(named_originals("default").items()):
        for sha256 in sorted(hashes):
            _hold(found, owner, sha256)
    if not found.ok:
        # A file goes just after its row: what is not named any more was not lost.
        named = named_originals("default")
        found.missing = [(owner, sha256) for owner, sha256 in found.missing if sha256 in named.get(owner, ())]
        found.damaged = [(owner, sha256) for owner, sha256 in found.damaged if sha256 in named.get(owner, ())]
    files = list(_files())
    # Named after the files were listed: a row that came meanwhile makes its file none that is left over.
    named = named_originals("default")
    for path in files:
        whose, sha256 = _who_and_what(path)
        if whose is None:
            (found.temporary if _is_temporary(path) else found.unknown).append(path)
        elif sha256 not in named.get(whose, ()):
            found.orphans.append(path)
    return found


def mend(found: OriginalsFound, *, now: float | None = None) -> list[Path]:
    """Remove orphans and temporary files that are older than a day, and nothing else.

    Parameters
    ----------
    found : OriginalsFound
        What the check found.
    now : float, optional
        Seconds of the epoch.

    Returns
    -------
    list of Path
        What was removed.
    """
    before = (time.time() if now is None else now) - OLD
    removed = [path for path in found.temporary if _is_older(path, before)]
    for path in removed:
        path.unlink(missing_ok=True)
    return removed + [path for path in found.orphans if _is_older(path, before) and _remove(path, before)]


def _remove(path: Path, before: float) -> bool:
    """Remove an orphan, unless the same bytes are being uploaded again just now.

    An upload that finds its bytes kept touches the file before it relies on it (``originals.keep``). So the
    file is taken out of its place first: from then on an upload writes it anew, and one that came before has
    left its mark.
    """
    owner, sha256 = _who_and_what(path)
    aside = path.with_name(LEAVING + path.name)
    try:
        path.rename(aside)
    except FileNotFoundError:
        return False
    if not _is_older(aside, before) or sha256 in named_originals("default").get(owner or 0, ()):
        aside.rename(path)
        return False
    aside.unlink()
    return True


def _hold(found: OriginalsFound, owner: int, sha256: str) -> None:
    try:
        originals.read(owner, sha256)
    except FileNotFoundError:
        found.missing.append((owner, sha256))
    except (ValueError, OSError):
        found.damaged.append((owner, sha256))
    else:
        found.whole += 1


def _files() -> Iterator[Path]:
    folder = Path(settings.DATA_FOLDER) / "originals"
    return (path for path in folder.rglob("*") if path.is_file() or path.is_symlink())


def _who_and_what(path: Path) -> tuple[int | None, str]:
    """Athlete and hash of an original by where it lies; None where no original lies."""
    owner, name = path.parent.parent.name, path.name
    if owner.isdecimal() and _SHA256.fullmatch(name) and path == originals.path_of(int(owner), name):
        return int(owner), name
    return None, ""


def _is_temporary(path: Path) -> bool:
    return path.name.startswith((originals.ARRIVING, LEAVING)) and path.is_file()


def _is_older(path: Path, before: float) -> bool:
    try:
        return path.lstat().st_mtime < before
    except FileNotFoundError:
        return False
