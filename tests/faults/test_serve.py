"""The whole installation, started as a person starts it, and what it does when parts of it are killed."""

import os
import signal
import socket
import subprocess
import time
from contextlib import suppress

import pytest

from tests.faults.installation import CHILDREN, Installation
from tests.waiting import LONG, eventually
from trainlog.runtime_folder import runtime_folder

pytestmark = pytest.mark.faults


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """A running installation, deeper than a socket's path may be and with a space in its path."""
    installation = Installation(tmp_path_factory.mktemp("deep") / ("a long name " * 10).strip() / "var")
    try:
        installation.start()
        yield installation
    finally:
        installation.end()


@pytest.fixture
def installation(tmp_path):
    installation = Installation(tmp_path / "var")
    yield installation
    installation.end()


def all_read(installation, count):
    return lambda: list(installation.states().values()).count("read") == count


def test_a_data_folder_deeper_than_a_socket_path_and_with_a_space_in_it_works(served):
    assert len(os.fsencode(served.folder / "queue.sock")) > 107
    status, found = eventually(lambda: served.health() if served.health()[0] else None, "an answer")
    assert (status, found["database"], found["queue"]) == (200, {"ok": True}, {"ok": True})


def test_its_runtime_folder_is_closed_to_everyone_else(served):
    assert runtime_folder(served.folder).stat().st_mode & 0o777 == 0o700


def test_a_second_start_on_the_same_folder_says_so_and_ends(served):
    second = served.manage("serve", "--address", "127.0.0.1:1")
    assert second.returncode == 1
    assert "is being served already" in second.stderr


@pytest.mark.parametrize("name", CHILDREN)
def test_a_killed_child_comes_back_and_work_goes_on(served, name):
    before = served.pid(name)
    number = len(served.states())
    os.kill(before, signal.SIGKILL)
    eventually(lambda: served.pid(name) not in (0, before), f"{name} is started again")
    eventually(lambda: served.health()[0] == 200, "health is well")
    served.receive(number, 1)
    eventually(lambda: served.states()[f"{number}.csv"] == "read", "a file handed in afterwards is read")


def test_the_sweep_goes_on_after_all_of_them_were_killed(served):
    killed = time.time()
    eventually(lambda: served.swept_at() > killed, "a sweep")


def test_ctrl_c_with_jobs_in_hand_ends_everything_and_the_next_start_finishes_the_work(installation):
    installation.start()
    with installation.paused("worker"):
        installation.receive(0, 30)
        assert list(installation.states().values()) == ["received"] * 30
        installation.process.send_signal(signal.SIGINT)
    assert installation.process.wait(LONG) == 0
    assert installation.processes() == []
    assert "Stopped." in installation.said()
    installation.start()
    eventually(all_read(installation, 30), "every file is read", seconds=150)


def test_a_start_after_everything_was_killed_finishes_the_work(installation):
    installation.start()
    with installation.paused("worker"):
        installation.receive(0, 30)
        installation.process.kill()
        for pid in installation.processes():
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        installation.process.wait()
    assert list(installation.states().values()) == ["received"] * 30
    installation.start()
    eventually(all_read(installation, 30), "every file is read", seconds=150)


def test_children_end_with_a_supervisor_that_is_killed(installation):
    installation.start()
    installation.process.kill()
    installation.process.wait()
    eventually(lambda: installation.processes() == [], "no process is left", seconds=10)


def test_a_file_received_while_nothing_ran_is_read_after_the_start(installation):
    installation.make_key()
    installation.manage("migrate")
    installation.receive(0, 1)
    assert installation.states() == {"0.csv": "received"}
    installation.start()
    eventually(all_read(installation, 1), "the file is read")


def test_a_port_in_use_is_named_before_anything_is_started(installation):
    installation.make_key()
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        refused = installation.manage("serve", "--address", f"127.0.0.1:{other.getsockname()[1]}")
    assert refused.returncode == 1
    assert "is in use" in refused.stderr


def test_what_an_earlier_start_left_behind_is_ended_where_the_kernel_did_not(installation):
    """The hold file is inherited by the child, as it is on systems whose kernel ends no orphans."""
    folder = runtime_folder(installation.folder)
    folder.mkdir(mode=0o700)
    hold = folder / "worker.pid"
    orphan = subprocess.Popen(
        ["python3", "-c", _HOLD_AND_WAIT, str(hold)], stdout=subprocess.PIPE, start_new_session=True
    )
    assert orphan.stdout is not None
    assert orphan.stdout.readline() == b"held\n"
    installation.start()
    assert orphan.wait(5) == -signal.SIGKILL
    assert "Ended a worker that an earlier start left behind." in installation.said()


_HOLD_AND_WAIT = """
import fcntl, os, signal, sys
file = open(sys.argv[1], "w")
fcntl.flock(file, fcntl.LOCK_EX)
file.write(str(os.getpid()))
file.flush()
print("held", flush=True)
signal.pause()
"""
