"""A child process: started in a session of its own, ended with everything it started."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from trainlog.serve import begin
from trainlog.serve.holds import hold, wait_until_free
from trainlog.serve.program import Program

BYTES_AT_ONCE = 65536


class Child:
    """The running process of a program."""

    def __init__(self, program: Program, folder: Path, environment: Mapping[str, str]) -> None:
        self.program = program
        self.silent = False
        """Whether nothing more can come from it."""
        self._hold = folder / f"{program.name}.pid"
        self._unfinished = b""
        descriptor = hold(self._hold)
        if descriptor is None:
            raise RuntimeError(f"{program.name} is running already")
        try:
            # Isolated and without site packages: it only ties the process to us and makes way.
            self.process = subprocess.Popen(
                [
                    *(sys.executable, "-I", "-S", begin.__file__, str(descriptor), str(os.getpid())),
                    *program.command,
                ],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                env=dict(environment),
                start_new_session=True,
                pass_fds=(descriptor,),
            )
        finally:
            os.close(descriptor)
        assert self.process.stdout is not None
        self.output = self.process.stdout.fileno()
        os.set_blocking(self.output, False)

    def lines(self) -> list[str]:
        """Whole lines that it has printed since last asked."""
        taken = self._unfinished
        with suppress(BlockingIOError):
            while piece := os.read(self.output, BYTES_AT_ONCE):
                taken += piece
            self.silent = True
        *whole, self._unfinished = taken.split(b"\n")
        return [line.decode(errors="replace").rstrip() for line in whole]

    @property
    def ended(self) -> bool:
        """Whether the process itself has ended."""
        return self.process.poll() is not None

    def ask_to_end(self) -> None:
        """Ask the process to end in its own way."""
        with suppress(ProcessLookupError):
            self.process.send_signal(signal.SIGTERM)

    def end(self) -> list[str]:
        """End whatever is left of the child's session, and give the last lines it printed."""
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        wait_until_free(self._hold, seconds=5)
        last = self.lines()
        if self._unfinished:
            last.append(self._unfinished.decode(errors="replace").rstrip())
        assert self.process.stdout is not None
        self.process.stdout.close()
        self._hold.unlink(missing_ok=True)
        return last
