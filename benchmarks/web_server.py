"""The web server as an installation has it, for the time of a measurement."""

from __future__ import annotations

import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from trainlog.serve.programs import web

PATIENCE = 30.0


@contextmanager
def web_server(address: str, environment: Mapping[str, str]) -> Iterator[None]:
    """Serve the log at an address such as ``127.0.0.1:8765`` until the end.

    Raises
    ------
    OSError
        If it does not answer within ``PATIENCE`` seconds.
    """
    with subprocess.Popen(web(address).command, env=dict(environment)) as process:
        try:
            _wait_until_it_answers(address)
            yield
        finally:
            process.terminate()


def _wait_until_it_answers(address: str) -> None:
    end = time.monotonic() + PATIENCE
    while True:
        try:
            urllib.request.urlopen(f"http://{address}/ready", timeout=5)
            return
        except urllib.error.HTTPError:
            return  # it answers, and misses a worker
        except OSError:
            if time.monotonic() > end:
                raise
            time.sleep(0.1)
