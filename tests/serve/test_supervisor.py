"""The supervisor with small programs in place of the installation's."""

import os
import signal
import sys
import time

import pytest

from trainlog.serve import program as programs
from trainlog.serve.holds import is_held
from trainlog.serve.program import Program
from trainlog.serve.supervisor import Failed, StopAsked, Supervisor

IGNORES_TERM = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('up', flush=True)\n"
FOREVER = "import signal\nwhile True: signal.pause()"


class Stage:
    """A supervisor and what it said."""

    def __init__(self, folder):
        self.folder = folder
        self.said: list[tuple[str, str]] = []
        self.supervisor = Supervisor(folder, os.environ, lambda name, line: self.said.append((name, line)))

    def pid(self, name):
        try:
            return int((self.folder / f"{name}.pid").read_text())
        except (FileNotFoundError, ValueError):
            return 0

    def lines_of(self, name):
        return [line for speaker, line in self.said if speaker == name]


@pytest.fixture
def stage(tmp_path):
    return Stage(tmp_path)


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch):
    monkeypatch.setattr(programs, "FIRST_PAUSE", 0.01)


def python(name, text, **options):
    return Program(name, (sys.executable, "-S", "-c", text), **options)


def test_what_a_child_prints_is_shown_under_its_name_to_the_last_unfinished_line(stage):
    with stage.supervisor as supervisor:
        supervisor.finish(supervisor.begin(python("once", "print('first'); print('second', end='')")))
    assert stage.said == [("once", "first"), ("once", "second")]


def test_lines_that_only_alarm_are_not_shown(stage):
    with stage.supervisor as supervisor:
        supervisor.finish(
            supervisor.begin(python("once", "print('all is lost\\nnot quite')", unsaid=("is lost",)))
        )
    assert stage.lines_of("once") == ["not quite"]


def test_a_step_that_fails_says_how(stage):
    with (
        stage.supervisor as supervisor,
        pytest.raises(Failed, match=r"once failed \(exit code 3\).*Try this"),
    ):
        supervisor.finish(supervisor.begin(python("once", "raise SystemExit(3)", remedy="Try this.")))


def test_a_child_that_dies_is_started_again(stage):
    with stage.supervisor as supervisor:
        supervisor.start(python("steady", FOREVER), ready=lambda: stage.pid("steady"))
        first = stage.pid("steady")
        os.kill(first, signal.SIGKILL)
        supervisor.start(python("other", FOREVER), ready=lambda: stage.pid("steady") not in (0, first))
    assert "steady ended unexpectedly (signal SIGKILL)" in stage.lines_of("")[0]


def test_a_child_that_dies_again_and_again_is_given_up_with_a_remedy(stage):
    with stage.supervisor as supervisor:
        supervisor.start(python("broken", "print('no'); raise SystemExit(1)", remedy="Look at the log."))
        with pytest.raises(Failed, match=r"broken ended 5 times within a minute.*Look at the log"):
            supervisor.watch()
    assert stage.lines_of("broken") == ["no"] * 5


def test_a_child_that_is_never_ready_is_named(stage):
    with stage.supervisor as supervisor, pytest.raises(Failed, match="slow was not ready"):
        supervisor.start(python("slow", FOREVER), ready=lambda: False, within=0.3)


def test_children_stop_in_the_order_of_their_stages(stage):
    says_goodbye = (
        "import signal, sys\nsignal.signal(signal.SIGTERM, lambda *_: sys.exit(print('bye', flush=True)))\n"
        "print('up', flush=True)\n" + FOREVER
    )
    with stage.supervisor as supervisor:
        for name, place in (("last", 2), ("first", 0), ("middle", 1)):
            supervisor.start(
                python(name, says_goodbye, stage=place), ready=lambda name=name: stage.lines_of(name)
            )
    assert [name for name, line in stage.said if line == "bye"] == ["first", "middle", "last"]


def test_a_child_that_does_not_end_by_itself_is_ended_after_its_patience(stage):
    with stage.supervisor as supervisor:
        supervisor.start(
            python("deaf", IGNORES_TERM + FOREVER, patience=0.2), ready=lambda: stage.lines_of("deaf")
        )
        began = time.monotonic()
    assert 0.2 <= time.monotonic() - began < 5
    assert "deaf does not end by itself; ending it." in stage.lines_of("")


def test_what_a_child_started_ends_with_it(stage):
    starts_another = (
        "import subprocess, sys\n"
        f"subprocess.Popen([sys.executable, '-S', '-c', {FOREVER!r}], close_fds=False)\n"
        "print('up', flush=True)\n" + FOREVER
    )
    with stage.supervisor as supervisor:
        supervisor.start(python("parent", starts_another), ready=lambda: stage.lines_of("parent"))
        hold = stage.folder / "parent.pid"
        assert is_held(hold)
    assert not is_held(hold)


def test_a_stop_signal_ends_a_wait(stage):
    with stage.supervisor as supervisor:
        child = supervisor.begin(python("long", f"import os; os.kill({os.getpid()}, 15)\n" + FOREVER))
        with pytest.raises(StopAsked):
            supervisor.finish(child)
    assert child.ended


def test_a_second_stop_signal_waits_for_nobody(stage):
    with stage.supervisor as supervisor:
        supervisor.start(
            python("deaf", IGNORES_TERM + FOREVER, patience=60), ready=lambda: stage.lines_of("deaf")
        )
        os.kill(os.getpid(), signal.SIGINT)
        os.kill(os.getpid(), signal.SIGTERM)
        began = time.monotonic()
    assert time.monotonic() - began < 5


def test_signals_are_given_back(stage):
    before = signal.getsignal(signal.SIGINT)
    with stage.supervisor:
        assert signal.getsignal(signal.SIGINT) != before
    assert signal.getsignal(signal.SIGINT) == before
