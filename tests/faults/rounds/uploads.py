"""A program that adds files and does not give up: what was answered with 202 is acknowledged."""

from __future__ import annotations

import random
import threading
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Mapping

from trainlog.originals import digest

TOKEN = "a" * 32
PATIENCE = 90.0
"""Seconds after which an upload is given up; the round then fails."""


class Uploads(threading.Thread):
    """Adds files in an order of its own, each again and again until it is acknowledged."""

    def __init__(self, port: int, session: str, files: Mapping[str, bytes], order: random.Random) -> None:
        super().__init__(daemon=True)
        self.port, self.session, self.files = port, session, files
        self.names = order.sample(sorted(files), len(files))
        self.acknowledged: set[str] = set()
        self.refusals = 0

    def run(self) -> None:
        """Add one file after the other."""
        for name in self.names:
            end = time.monotonic() + PATIENCE
            while time.monotonic() < end:
                if self._add(name):
                    self.acknowledged.add(digest(self.files[name]))
                    break
                self.refusals += 1
                time.sleep(0.2)

    def _add(self, name: str) -> bool:
        edge = uuid.uuid4().hex
        body = (
            (
                f'--{edge}\r\nContent-Disposition: form-data; name="files"; filename="{name}"\r\n'
                "Content-Type: application/octet-stream\r\n\r\n"
            ).encode()
            + self.files[name]
            + f"\r\n--{edge}--\r\n".encode()
        )
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}/api/files",
            body,
            {
                "Content-Type": f"multipart/form-data; boundary={edge}",
                "Cookie": f"sessionid={self.session}; csrftoken={TOKEN}",
                "X-CSRFToken": TOKEN,
            },
        )
        try:
            with urllib.request.urlopen(request, timeout=20) as answer:
                return bool(answer.status == 202) and b'"id"' in answer.read()
        except (urllib.error.URLError, OSError, TimeoutError):
            return False
