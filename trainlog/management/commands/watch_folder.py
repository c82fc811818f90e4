"""Import whatever appears in a folder."""

from __future__ import annotations

import itertools
import signal
import threading
from argparse import ArgumentParser
from pathlib import Path
from types import FrameType
from typing import Any

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError

from trainlog.models import Athlete
from trainlog.services.athletes import log_of
from trainlog.services.watch_folder import Watch, look

EVERY = 10.0
"""Seconds from one look to the next."""


class Command(BaseCommand):
    """``manage.py watch_folder FOLDER --user NAME``."""

    help = (
        "Import each file that appears or changes in a folder, once it has stayed the same from one look to "
        "the next. Files are never moved, changed or deleted, and one that is in the log already changes "
        "nothing. Ctrl-C ends it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what the command takes."""
        parser.add_argument("folder", type=Path)
        parser.add_argument("--user", required=True, help="whose log the files go into")
        parser.add_argument("--once", action="store_true", help="take what is there, then end")
        parser.add_argument("--subfolders", action="store_true", help="look into the folders inside it too")
        parser.add_argument(
            "--every", type=float, default=EVERY, help=f"seconds from one look to the next ({EVERY:g})"
        )

    def handle(
        self, *, folder: Path, user: str, once: bool, subfolders: bool, every: float, **_: Any
    ) -> None:
        """Watch until a stop is asked for."""
        athlete = _log(user)
        folder = folder.expanduser()
        if not folder.is_dir():
            raise CommandError(f"{folder} is no folder.")
        if not 0.1 <= every <= 3600:
            raise CommandError("Look every 0.1 to 3600 seconds.")
        self.stop = threading.Event()
        before = {number: signal.signal(number, self._ask_to_stop) for number in _signals()}
        try:
            self._watch(athlete, Watch(folder, subfolders), every, once=once)
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _watch(self, athlete: Athlete, watch: Watch, every: float, *, once: bool) -> None:
        if not once:
            self._say(f"Watching {watch.folder}, every {every:g} s. Ctrl-C ends it.")
        missing = False
        # The first look only sees; what is the same at the second has settled.
        for number in range(2) if once else itertools.count():
            try:
                self._look(athlete, watch, first=not watch.seen)
                missing = False
            except OSError as error:
                if once:
                    raise CommandError(f"{watch.folder} cannot be read: {error.strerror}.") from error
                if not missing:
                    self._say(f"{watch.folder} cannot be read ({error.strerror}). It is looked for again.")
                missing = True
            if self.stop.is_set() or (once and number == 1) or self.stop.wait(every):
                break
        for path in sorted(set(watch.growing) - set(watch.troubles)) if once else ():
            self._say(f"{path.relative_to(watch.folder)}: still being written, so left for another time")
        if not once:
            self._say("Stopped.")

    def _look(self, athlete: Athlete, watch: Watch, *, first: bool) -> None:
        known = 0
        for line in look(athlete, watch, self.stop.is_set):
            if first and line.known:
                known += 1
            else:
                self._say(line.text)
        if known:
            self._say(f"{known} file{'' if known == 1 else 's'} in the log already.")

    def _ask_to_stop(self, number: int, frame: FrameType | None) -> None:
        self.stop.set()

    def _say(self, text: str) -> None:
        self.stdout.write(" ".join(text.split()))
        self.stdout.flush()


def _signals() -> list[signal.Signals]:
    """Signals that end it; only a process's first thread may hear them."""
    if threading.current_thread() is not threading.main_thread():
        return []
    return [signal.SIGINT, signal.SIGTERM]


def _log(name: str) -> Athlete:
    found = get_user_model()._default_manager.filter(username=name).first()
    if found is None:
        raise CommandError(f"There is no user {name!r}.")
    return log_of(found)
