import subprocess
from pathlib import Path

import pytest

from trainlog.serve.answers import queue_answers
from trainlog.serve.queue_server import configuration, queue_command


def test_the_server_opens_no_port_and_keeps_every_wake_up_on_disk():
    lines = configuration(Path("/data/queue"), Path("/run/queue.sock")).splitlines()
    assert {"port 0", "unixsocketperm 700", "appendonly yes", "maxmemory-policy noeviction"} <= set(lines)


@pytest.mark.parametrize("name", ["plain", "with a space", 'with "quotes"', "with\\backslash", "with #hash"])
def test_a_folder_of_any_name_works(tmp_path, name):
    folder, socket = tmp_path / name, tmp_path / "queue.sock"
    server = subprocess.Popen(queue_command(folder, socket), stdout=subprocess.DEVNULL)
    try:
        while not queue_answers(socket):
            assert server.poll() is None
        assert (folder / "appendonlydir").is_dir()
    finally:
        server.terminate()
        server.wait(10)
