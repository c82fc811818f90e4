"""A real installation in a folder of its own, started as a person starts it."""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

from tests.waiting import LONG, eventually
from trainlog.runtime_folder import runtime_folder

PROJECT = Path(__file__).resolve().parents[2]
CHILDREN = ("queue", "worker", "reporter", "sweeper", "scheduler", "web")


def free_port() -> int:
    with closing(socket.socket()) as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


class Installation:
    """Data folder, port and supervisor."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = free_port()
        self.process: subprocess.Popen[str] | None = None
        self.environment = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith("TRAINLOG_") and name != "DJANGO_SETTINGS_MODULE"
        } | {"TRAINLOG_DATA_FOLDER": str(folder)}
        self.log = folder.with_name(folder.name + ".log")

    def command(self, *arguments: str) -> list[str]:
        return [sys.executable, str(PROJECT / "manage.py"), *arguments]

    def make_key(self) -> None:
        subprocess.run(
            [sys.executable, "-m", "trainlog.secret_key", str(self.folder)], cwd=PROJECT, check=True
        )

    def start(self) -> None:
        """Start it and wait until it answers."""
        self.make_key()
        with self.log.open("a") as log:
            self.process = subprocess.Popen(
                self.command("serve", "--address", f"127.0.0.1:{self.port}", "--without-demo"),
                env=self.environment,
                stdout=log,
                stderr=subprocess.STDOUT,
                text=True,
                start_new_session=True,
            )
        eventually(self._ready, f"ready; it said {self.said()}")

    def _ready(self) -> bool:
        assert self.process is not None
        assert self.process.poll() is None, self.said()
        return f"Ready at http://127.0.0.1:{self.port}" in self.said().rpartition("Collecting")[2]

    def said(self) -> str:
        return self.log.read_text() if self.log.exists() else ""

    def health(self) -> tuple[int, dict[str, Any]]:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/health", timeout=10) as answer:
                return answer.status, json.load(answer)
        except urllib.error.HTTPError as answer:
            return answer.code, json.load(answer)
        except OSError:
            return 0, {}

    def manage(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            self.command(*arguments),
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=LONG,
            check=False,
        )

    def receive(self, first: int, count: int) -> None:
        """Take in files, as an upload does."""
        script = PROJECT / "tests/receive_files.py"
        subprocess.run(
            [sys.executable, str(script), str(first), str(count)],
            env=self.environment
            | {"DJANGO_SETTINGS_MODULE": "trainlog.settings", "PYTHONPATH": str(PROJECT)},
            timeout=LONG,
            check=True,
        )

    def states(self) -> dict[str, str]:
        """State of each file by its name."""
        with closing(
            sqlite3.connect(f"file:{self.folder / 'trainlog.sqlite3'}?mode=ro", uri=True)
        ) as database:
            return dict(database.execute("SELECT file_name, state FROM trainlog_recording"))

    def swept_at(self) -> float:
        """When the last sweep ended, in seconds of the epoch; 0 before the first."""
        ago = self.health()[1].get("sweep", {}).get("seconds_ago")
        return 0.0 if ago is None else time.time() - ago - 1

    @contextmanager
    def paused(self, name: str) -> Iterator[None]:
        """Hold a child still, so that what is handed to it is surely undone when it goes on."""
        pid = self.pid(name)
        os.kill(pid, signal.SIGSTOP)
        try:
            yield
        finally:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGCONT)

    def pid(self, name: str) -> int:
        """Process id of a child; 0 while there is none."""
        try:
            return int((runtime_folder(self.folder) / f"{name}.pid").read_text())
        except (FileNotFoundError, ValueError):
            return 0

    def processes(self) -> list[int]:
        """Every living process of this installation, grandchildren included, but not its supervisor."""
        mark = f"TRAINLOG_DATA_FOLDER={self.folder}".encode()
        found = []
        for folder in Path("/proc").iterdir():
            if folder.name.isdecimal() and (self.process is None or int(folder.name) != self.process.pid):
                try:
                    if mark in (folder / "environ").read_bytes().split(b"\0"):
                        found.append(int(folder.name))
                except (FileNotFoundError, PermissionError, ProcessLookupError):
                    continue
        return found

    def end(self) -> None:
        """Leave nothing behind, whatever the test did."""
        if self.process and self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        for pid in self.processes():
            os.kill(pid, signal.SIGKILL)
        shutil.rmtree(runtime_folder(self.folder), ignore_errors=True)
