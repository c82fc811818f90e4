"""Found first by every process of an installation under test: a file and a page that wait to be let go.

Whoever reads a file with the word ``slowly`` in it, or answers ``/ready``, notes that it has begun and waits.
"""

import os
import sys
import time
from pathlib import Path

FOLDER = Path(os.environ.get("TESTS_HOLD", "/nonexistent"))
LONGEST = 60
"""Seconds; a test that fails leaves nobody waiting."""


def hold(what):
    """Note that it has begun, and wait until it is let go."""
    if not FOLDER.is_dir():
        return
    (FOLDER / f"{what}.begun").touch()
    end = time.monotonic() + LONGEST
    while not (FOLDER / f"{what}.go").exists() and time.monotonic() < end:
        time.sleep(0.02)


class _OnceLoaded:
    """Puts the waiting in front of both, once they are imported."""

    left = {"readers", "requests"}

    def find_spec(self, name, path=None, target=None):
        readers = sys.modules.get("trainlog.readers")
        if "readers" in self.left and hasattr(readers, "read"):
            self.left.discard("readers")
            read = readers.read

            def slow_read(content, **options):
                if b"slowly" in content:
                    hold("reading")
                return read(content, **options)

            readers.read = slow_read
        requests = sys.modules.get("trainlog.telling.requests")
        if "requests" in self.left and hasattr(requests, "RequestMiddleware"):
            self.left.discard("requests")
            answer = requests.RequestMiddleware.__call__

            def slow_answer(self, request):
                if request.path == "/ready":
                    hold("answering")
                return answer(self, request)

            requests.RequestMiddleware.__call__ = slow_answer


if "TESTS_HOLD" in os.environ:
    sys.meta_path.insert(0, _OnceLoaded())
