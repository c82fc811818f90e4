"""Where the embedded queue's socket lives: a short private folder named after the data folder.

A Unix socket's path may be 107 bytes at most, and a data folder may be deeper than that.
"""

import hashlib
import os
import tempfile
from pathlib import Path


def runtime_folder(data_folder: Path) -> Path:
    """Path of the runtime folder of a data folder; not made yet."""
    name = hashlib.sha256(str(data_folder.resolve()).encode()).hexdigest()[:12]
    return Path(tempfile.gettempdir()) / f"trainlog-{os.getuid()}-{name}"


def queue_socket(data_folder: Path) -> Path:
    """Path of the embedded queue server's socket."""
    return runtime_folder(data_folder) / "queue.sock"
