"""An installation that faults are done to: on SQLite, or on a PostgreSQL server of its own."""

from __future__ import annotations

import json
import os
import pwd
import shutil
import struct
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.faults.installation import PROJECT, Installation, free_port
from tests.faults.rounds.log_state import LogState
from tests.waiting import LONG, eventually
from trainlog.runtime_folder import queue_socket

PACE = {"TRAINLOG_LONGEST_TASK_SECONDS": "5", "TRAINLOG_SWEEP_SECONDS": "2"}
"""A killed worker's work is taken up again after seconds, not minutes."""

HOOK = Path(__file__).parent / "hook"
DISK_BYTES, BYTES_A_LOG = 64 * 2**20, 4 * 2**20
"""Room for an installation, and for each log in it."""


class Disk:
    """A file system of its own for a data folder, small enough to be filled."""

    def __init__(self, folder: Path, logs: int) -> None:
        folder.mkdir(parents=True)
        self.folder = folder
        size = DISK_BYTES + logs * BYTES_A_LOG
        self.mounted = (
            os.geteuid() == 0
            and subprocess.run(
                ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)],
                capture_output=True,
                check=False,
            ).returncode
            == 0
        )

    def fill(self) -> None:
        """Leave no byte free."""
        with (self.folder / "filler").open("wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(2**16))
            except OSError:
                pass

    def empty(self) -> None:
        """Free what was filled."""
        (self.folder / "filler").unlink(missing_ok=True)

    def unmount(self) -> None:
        """Give it up."""
        if self.mounted:
            subprocess.run(["umount", "--lazy", str(self.folder)], check=True)


class PostgresServer:
    """A PostgreSQL server in a folder of its own, which may be killed."""

    def __init__(self) -> None:
        versions = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: int(path.parent.name))
        if not versions:
            raise FileNotFoundError("there is no PostgreSQL server here: install postgresql")
        self.binaries = versions[-1]
        # Beside the tests' folders and not in them: every run of pytest closes those to other accounts.
        self.folder = Path(tempfile.mkdtemp(prefix="trainlog-postgres-"))
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None
        account = pwd.getpwnam("postgres") if os.geteuid() == 0 else None
        self.user = account.pw_uid if account else None
        self.group = account.pw_gid if account else None
        if account:
            os.chown(self.folder, account.pw_uid, account.pw_gid)
        data = str(self.folder / "data")
        self._run("initdb", "--auth", "trust", "--username", "trainlog", "--no-sync", "-D", data)

    def _run(self, program: str, *arguments: str) -> None:
        command = [str(self.binaries / program), *arguments]
        subprocess.run(command, check=True, capture_output=True, user=self.user, group=self.group)

    @property
    def url(self) -> str:
        """Address of the database."""
        return f"postgres://trainlog@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = ["-k", str(self.folder), "-p", str(self.port), "-c", "listen_addresses=127.0.0.1"]
        self.process = subprocess.Popen(
            [str(self.binaries / "postgres"), "-D", str(self.folder / "data"), *options],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            user=self.user,
            group=self.group,
        )
        ready = [str(self.binaries / "pg_isready"), "-h", "127.0.0.1", "-p", str(self.port)]
        eventually(
            lambda: subprocess.run(ready, capture_output=True, check=False).returncode == 0,
            "PostgreSQL answers",
        )

    def kill(self) -> None:
        """End it as a power cut would."""
        if self.process:
            os.killpg(self.process.pid, 9)
            self.process.wait()
            (self.folder / "data/postmaster.pid").unlink(missing_ok=True)

    def end(self) -> None:
        """Kill it and leave nothing behind."""
        self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)


class World:
    """An installation with its disk, its database and, where the machine has what it takes, its clock."""

    def __init__(self, folder: Path, *, postgres: bool, logs: int) -> None:
        self.folder = folder
        folder.mkdir(parents=True)
        self.disk = Disk(folder / "disk", logs)
        self.server = PostgresServer() if postgres else None
        self.installation = Installation(folder / "disk/var")
        self.clock = folder / "clock"
        self.installation.environment |= PACE | {"PYTHONPATH": str(HOOK)}
        if self.server:
            self.installation.environment["TRAINLOG_DATABASE_URL"] = self.server.url
        self.can_jump = self._wind_clock(folder / "clock.so")
        self.state = LogState(
            self.server.url if self.server else self.installation.folder / "trainlog.sqlite3"
        )
        self.sessions: dict[str, str] = {}

    def start(self) -> None:
        """Start all of it."""
        if self.server:
            self.server.start()
        self.installation.start()

    def _wind_clock(self, library: Path) -> bool:
        """Let the installation go by a clock that can be moved, where there is a compiler to make one."""
        compiler = shutil.which("cc")
        if not compiler:
            return False
        source = Path(__file__).parent / "clock.c"
        subprocess.run([compiler, "-shared", "-fPIC", "-O2", "-o", str(library), str(source)], check=True)
        self.set_clock(0)
        self.installation.environment |= {"LD_PRELOAD": str(library), "TEST_CLOCK": str(self.clock)}
        return True

    def set_clock(self, seconds: int) -> None:
        """Move the installation's clock so far from the true one; its processes share the file's memory."""
        with self.clock.open("r+b" if self.clock.exists() else "wb") as file:
            file.write(struct.pack("=q", seconds))

    def open_logs(self, names: Sequence[str]) -> None:
        """Open alike logs and sign in to them."""
        done = subprocess.run(
            [sys.executable, str(Path(__file__).parent / "prepare.py"), *names],
            env=self.installation.environment
            | {"DJANGO_SETTINGS_MODULE": "trainlog.settings", "PYTHONPATH": str(PROJECT)},
            capture_output=True,
            text=True,
            timeout=LONG,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        self.sessions |= json.loads(done.stdout)

    @property
    def broker(self) -> str:
        """Address of the queue."""
        return f"redis+socket://{queue_socket(self.installation.folder)}?virtual_host=0"

    def has_originals(self, user: str, hashes: set[str]) -> bool:
        """Whether every one of these originals is there, byte for byte."""
        from trainlog.originals import digest

        there = {
            path.name
            for path in (self.installation.folder / "originals").rglob("*")
            if path.is_file() and digest(path.read_bytes()) == path.name
        }
        return hashes <= there

    def end(self) -> None:
        """Leave nothing behind."""
        self.installation.end()
        if self.server:
            self.server.end()
        self.disk.unmount()
        shutil.rmtree(self.folder, ignore_errors=True)
