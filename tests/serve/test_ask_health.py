import json
from http.server import BaseHTTPRequestHandler, HTTPServer
from threading import Thread

import pytest

from trainlog.serve.ask_health import is_well


@pytest.fixture
def told():
    """Address of a page that answers as it is told."""
    answer = {}

    class Page(BaseHTTPRequestHandler):
        def do_GET(self):
            self.send_response(200 if answer["ok"] else 503)
            self.end_headers()
            self.wfile.write(json.dumps(answer).encode())

        def log_message(self, *_):
            pass

    server = HTTPServer(("127.0.0.1", 0), Page)
    Thread(target=server.serve_forever, daemon=True).start()

    def told(**found):
        answer.clear()
        answer.update(found)
        return f"http://127.0.0.1:{server.server_port}/health"

    yield told
    server.shutdown()
    server.server_close()


def test_an_installation_that_says_so_is_well(told):
    assert is_well(told(ok=True))[0]


def test_one_that_does_not_is_not_and_its_words_are_given(told):
    well, words = is_well(told(ok=False, queue={"ok": False}))
    assert not well
    assert '"queue"' in words


@pytest.mark.parametrize(("part", "expected"), [("sweep", True), ("queue", False), ("nothing", False)])
def test_one_part_can_be_well_while_others_are_not(told, part, expected):
    address = told(ok=False, sweep={"ok": True}, queue={"ok": False})
    assert is_well(address, part)[0] is expected


def test_nobody_there_is_not_well():
    assert not is_well("http://127.0.0.1:1/health", "sweep")[0]
