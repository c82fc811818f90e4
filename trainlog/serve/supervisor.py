"""One loop that starts children, shows what they print, restarts those that die, and stops them in order."""

from __future__ import annotations

import os
import selectors
import signal
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from types import FrameType, TracebackType
from typing import Any

from trainlog.serve.child import Child
from trainlog.serve.program import Deaths, Program

STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
ASK_EVERY = 0.1
"""Seconds between two questions whether a child is ready."""


class StopAsked(Exception):
    """Somebody wants everything to stop."""


class Failed(Exception):
    """The installation cannot run, and why."""


class Supervisor:
    """Keeps children running for as long as its ``with`` block lasts, and none of them after it.

    Parameters
    ----------
    folder : Path
        Private folder for the files that the children hold.
    environment : mapping
        Environment of the children.
    say : callable
        Shows a line: takes a child's name, empty for the supervisor's own lines, and the text.
    """

    def __init__(self, folder: Path, environment: Mapping[str, str], say: Callable[[str, str], None]) -> None:
        self._folder = folder
        self._environment = environment
        self._say = say
        self._children: dict[str, Child] = {}
        self._deaths: dict[str, Deaths] = {}
        self._due: dict[str, tuple[float, Program]] = {}
        self._stops_asked = 0
        self._selector = selectors.DefaultSelector()
        self._earlier_handlers: dict[signal.Signals, Any] = {}

    def __enter__(self) -> Supervisor:
        """Take the signals: they are noted in handlers and acted on in the loop."""
        self._woken, self._waker = os.pipe()
        for descriptor in (self._woken, self._waker):
            os.set_blocking(descriptor, False)
        self._selector.register(self._woken, selectors.EVENT_READ)
        self._earlier_wakeup = signal.set_wakeup_fd(self._waker, warn_on_full_buffer=False)
        for number in STOP_SIGNALS:
            self._earlier_handlers[number] = signal.signal(number, self._note_stop)
        self._earlier_handlers[signal.SIGCHLD] = signal.signal(signal.SIGCHLD, lambda number, frame: None)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop every child, whatever happened, and give the signals back."""
        try:
            self._stop()
        finally:
            for number, handler in self._earlier_handlers.items():
                signal.signal(number, handler)
            signal.set_wakeup_fd(self._earlier_wakeup)
            self._selector.close()
            os.close(self._woken)
            os.close(self._waker)

    def start(self, program: Program, ready: Callable[[], bool] | None = None, within: float = 30.0) -> None:
        """Start a program that is to run from now on, and wait until it is ready.

        Parameters
        ----------
        program : Program
            What to run.
        ready : callable, optional
            Asks the program whether it can be used.
        within : float
            Seconds that it has.

        Raises
        ------
        Failed
            If it is not ready in time.
        StopAsked
            If a stop was asked for meanwhile.
        """
        self._deaths[program.name] = Deaths()
        self._begin(program)
        end = time.monotonic() + within
        while ready and not ready():
            if time.monotonic() > end:
                raise Failed(f"{program.name} was not ready within {within:.0f} s. {program.remedy}".strip())
            self._turn(ASK_EVERY)

    def begin(self, program: Program) -> Child:
        """Begin a program that is to end by itself; see ``finish``.

        Raises
        ------
        StopAsked
            If a stop was asked for before.
        """
        return self._begin(program)

    def finish(self, child: Child) -> None:
        """Wait for a program to end, while the others go on.

        Raises
        ------
        Failed
            If it did not end well.
        StopAsked
            If a stop was asked for meanwhile.
        """
        program = child.program
        while program.name in self._children:
            self._turn(None)
        if child.process.returncode != 0:
            raise Failed(
                f"{program.name} failed ({_manner(child.process.returncode)}); what it said stands above. "
                f"{program.remedy}".strip()
            )

    def watch(self) -> None:
        """Keep the children running until a stop is asked for.

        Raises
        ------
        Failed
            If a child dies again and again.
        """
        with suppress(StopAsked):
            while True:
                self._turn(None)

    def _begin(self, program: Program) -> Child:
        self._raise_if_stopped()
        child = Child(program, self._folder, self._environment)
        self._children[program.name] = child
        self._selector.register(child.output, selectors.EVENT_READ, child)
        return child

    def _turn(self, seconds: float | None) -> None:
        """Wait for something to happen, at most so long, and act on it."""
        self._raise_if_stopped()
        now = time.monotonic()
        waits = [due - now for due, _ in self._due.values()] + ([seconds] if seconds is not None else [])
        self._listen(max(0.0, min(waits)) if waits else None)
        self._raise_if_stopped()
        for child in [child for child in self._children.values() if child.ended]:
            self._bury(child)
            self._restart_later(child)
        for name, (due, program) in list(self._due.items()):
            if due <= time.monotonic():
                del self._due[name]
                self._begin(program)

    def _listen(self, seconds: float | None) -> None:
        for key, _ in self._selector.select(seconds):
            if key.data is None:
                with suppress(BlockingIOError):
                    os.read(self._woken, 4096)
                continue
            self._show(key.data.program, key.data.lines())
            if key.data.silent:
                self._selector.unregister(key.fileobj)

    def _restart_later(self, child: Child) -> None:
        """Plan the next start of a program that should have gone on."""
        program, deaths = child.program, self._deaths.get(child.program.name)
        if deaths is None:  # it was meant to end
            return
        deaths.count(time.monotonic())
        manner = _manner(child.process.returncode)
        if deaths.too_many:
            raise Failed(
                f"{program.name} ended {len(deaths.times)} times within a minute, at last with {manner}; "
                f"what it said stands above. {program.remedy}".strip()
            )
        self._say(
            "", f"{program.name} ended unexpectedly ({manner}); starting it again in {deaths.pause:g} s."
        )
        self._due[program.name] = (time.monotonic() + deaths.pause, program)

    def _bury(self, child: Child) -> None:
        """Take leave of a child that has ended or must."""
        with suppress(KeyError, ValueError):
            self._selector.unregister(child.output)
        self._show(child.program, child.end())
        del self._children[child.program.name]

    def _stop(self) -> None:
        """Stop stage by stage; who does not end in time is ended. A second stop signal ends all at once."""
        self._due.clear()
        for stage in sorted({child.program.stage for child in self._children.values()}):
            group = [child for child in self._children.values() if child.program.stage == stage]
            begun = time.monotonic()
            for child in group:
                child.ask_to_end()
            while group:
                hurry = self._stops_asked > 1
                for child in list(group):
                    late = time.monotonic() - begun > child.program.patience
                    if late and not hurry:
                        self._say("", f"{child.program.name} does not end by itself; ending it.")
                    if child.ended or late or hurry:
                        self._bury(child)
                        group.remove(child)
                if group:
                    next_deadline = min(begun + child.program.patience for child in group)
                    self._listen(max(0.0, next_deadline - time.monotonic()) + 0.01)

    def _show(self, program: Program, lines: list[str]) -> None:
        for line in lines:
            if line and not any(words in line for words in program.unsaid):
                self._say(program.name, line)

    def _note_stop(self, number: int, frame: FrameType | None) -> None:
        self._stops_asked += 1

    def _raise_if_stopped(self) -> None:
        if self._stops_asked:
            raise StopAsked


def _manner(code: int) -> str:
    """How a process ended, in words."""
    return f"signal {signal.Signals(-code).name}" if code < 0 else f"exit code {code}"
