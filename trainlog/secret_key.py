"""The installation's secret key, kept in the data folder and never in the repository.

Run ``python -m trainlog.secret_key FOLDER`` to make one where there is none; `make run` does so.
"""

import os
import secrets
import sys
from pathlib import Path

FILE_NAME = "secret_key"


def read(data_folder: Path) -> str:
    """Kept key of a data folder; empty where none has been made."""
    path = data_folder / FILE_NAME
    return path.read_text().strip() if path.exists() else ""


def make(data_folder: Path) -> None:
    """Make and keep a key that only this account can read, unless there is one."""
    data_folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        descriptor = os.open(data_folder / FILE_NAME, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return
    with os.fdopen(descriptor, "w") as file:
        file.write(secrets.token_urlsafe(50))


if __name__ == "__main__":
    make(Path(sys.argv[1]))
