"""Files of a folder that were not looked at yet, once nobody is writing them any more."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from django.db import DatabaseError, close_old_connections

from trainlog.models import Athlete, Recording
from trainlog.readers.errors import UnreadableFile
from trainlog.services.deletions import deleted_hashes
from trainlog.services.import_files import check_size, read_recording, receive_all
from trainlog.services.workout_words import in_words

logger = logging.getLogger(__name__)

Stamp = tuple[int, int, int]
"""Size, time of the last change in nanoseconds, and number of a file on its disk."""


@dataclass
class Watch:
    """What is known of a folder.

    Attributes
    ----------
    folder : Path
    subfolders : bool
        Whether those inside it are looked at too.
    seen : dict
        Stamp of each file when it was last looked at; a changed file has another.
    growing : dict
        Stamp of each file that was new at the last look: it is taken once it is the same at the next.
    troubles : dict
        What kept a file from being taken, so that it is said once.
    """

    folder: Path
    subfolders: bool = False
    seen: dict[Path, Stamp] = field(default_factory=dict)
    growing: dict[Path, Stamp] = field(default_factory=dict)
    troubles: dict[Path, str] = field(default_factory=dict)

    def settled(self) -> list[Path]:
        """Files that are new or changed, and the same as at the look before, oldest change first.

        Raises
        ------
        OSError
            If the folder itself cannot be read.
        """
        now = dict(self._files())
        fresh = {path: stamp for path, stamp in now.items() if self.seen.get(path) != stamp}
        done = [path for path, stamp in fresh.items() if self.growing.get(path) == stamp]
        self.growing = fresh
        self.seen = {path: stamp for path, stamp in self.seen.items() if path in now}
        return sorted(done, key=lambda path: (fresh[path][1], str(path)))

    def looked_at(self, path: Path) -> None:
        """Note that a file needs no other look until it changes."""
        self.troubles.pop(path, None)
        stamp = self.growing.pop(path, None)
        if stamp is not None:
            self.seen[path] = stamp

    def _files(self) -> Iterator[tuple[Path, Stamp]]:
        self.folder.stat()
        for path in self.folder.rglob("*") if self.subfolders else self.folder.iterdir():
            inside = path.relative_to(self.folder).parts
            # Names that begin with a dot are those of files under way, or of other programs.
            if any(part.startswith(".") for part in inside):
                continue
            try:
                if path.is_file():
                    state = path.stat()
                    yield path, (state.st_size, state.st_mtime_ns, state.st_ino)
            except OSError:
                continue  # gone again, or not to be read: the next look tells


@dataclass(frozen=True)
class Line:
    """One line on a file; ``known`` where it was in the log before, ``refused`` where it is not in it now."""

    text: str
    known: bool = False
    refused: bool = False


def take(athlete: Athlete, path: Path, name: str) -> list[Line]:
    """Import a file as an upload would, and say what was found or what to fix.

    The file itself is left where and as it is.

    Parameters
    ----------
    athlete : Athlete
        Whose log it goes into.
    path : Path
    name : str
        By which the athlete knows it.

    Returns
    -------
    list of Line
        One line; one for each file inside an archive.

    Raises
    ------
    OSError
        If the file cannot be read, or its bytes cannot be kept.
    """
    try:
        check_size(path.stat().st_size)
    except UnreadableFile as refusal:
        return [Line(f"{name}: {refusal}", refused=True)]
    # What the athlete deleted stays deleted, though its file still lies in the folder.
    received = receive_all(athlete, path.name, path.read_bytes(), but_not=deleted_hashes(athlete))
    known = {row.pk for row in received.known}
    lines = [
        Line(f"{_inside(name, path, one.name)}: {one.problem}", refused=True) for one in received.refusals
    ]
    lines += [
        Line(
            f"{_inside(name, path, one)}: deleted lately, so left out. "
            "Add it on the log page to have it anew",
            refused=True,
        )
        for one in received.left_out
    ]
    for row in received.recordings:
        if row.pk in known:
            lines.append(Line(f"{name}: in the log already, {_found(row)[0]}", known=True))
            continue
        # Here and now, so that the line can say what was found; a worker that was woken finds it done.
        read_recording(row.pk)
        found, refused = _found(row)
        lines.append(Line(f"{_inside(name, path, row.file_name)}: {found}", refused=refused))
    return lines or [Line(f"{name}: holds no file", refused=True)]


def take_or_say_why(athlete: Athlete, path: Path, name: str) -> list[Line]:
    """Import a file as ``take`` does, and say so in a line if it cannot be."""
    try:
        return take(athlete, path, name)
    except (OSError, DatabaseError) as error:
        return [Line(f"{name}: not taken ({error})", refused=True)]
    except Exception as error:
        return [could_not_be(name, error)]


def could_not_be(name: str, error: Exception) -> Line:
    """Line on a file that nobody foresaw; what happened is in the program's log."""
    logger.exception("A file of a watched folder, or of an import, could not be read in")
    return Line(f"{name}: could not be imported ({type(error).__name__}). The others go on", refused=True)


def _inside(name: str, path: Path, file_name: str) -> str:
    """A file's name, with that of the archive it came in."""
    return name if file_name == path.name else f"{name}, {file_name}"


def _found(recording: Recording) -> tuple[str, bool]:
    """What is known of a recording in words, and whether it was refused."""
    row = Recording.objects.select_related("sensor", "workout").get(pk=recording.pk)
    if row.state == Recording.State.REFUSED:
        return row.problem, True
    if row.workout is None:
        return "kept, and waiting to be read", False
    sensor = row.sensor.name if row.sensor else "say on the log page which sensor this was"
    return f"{in_words([row.workout])}, {round(row.seconds / 60)} min, {sensor}", False


def look(athlete: Athlete, watch: Watch, stopping: Callable[[], bool]) -> Iterator[Line]:
    """Take every file that has settled; a bad one does not hold up the others.

    Parameters
    ----------
    athlete : Athlete
    watch : Watch
    stopping : callable
        Asked before each file: whether to leave the rest for another time.

    Yields
    ------
    Line
        As soon as there is something to say.

    Raises
    ------
    OSError
        If the folder itself cannot be read.
    """
    for path in watch.settled():
        if stopping():
            break
        name = str(path.relative_to(watch.folder))
        try:
            lines = take(athlete, path, name)
        except (OSError, DatabaseError) as error:
            # Not the file's fault, or not for good: the next look tries again, and says so once.
            if watch.troubles.get(path) != str(error):
                watch.troubles[path] = str(error)
                yield Line(f"{name}: not taken yet ({error}). It is tried again")
            continue
        except Exception as error:
            lines = [could_not_be(name, error)]
        watch.looked_at(path)
        yield from lines
    close_old_connections()
