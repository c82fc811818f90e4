"""Ask a child whether it can be used yet."""

from __future__ import annotations

import errno
import socket
from contextlib import suppress
from pathlib import Path

_TAKEN = (errno.EADDRINUSE, errno.EACCES)

PATIENCE = 1.0
"""Seconds that an answer may take; whoever asks does nothing else meanwhile."""


def queue_answers(path: Path) -> bool:
    """Whether the queue's server takes commands on its socket."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection, suppress(OSError):
        connection.settimeout(PATIENCE)
        connection.connect(str(path))
        connection.sendall(b"PING\r\n")
        return connection.recv(16).startswith(b"+PONG")
    return False


def web_answers(host: str, port: int) -> bool:
    """Whether the web server answers a request, whatever the answer is."""
    with suppress(OSError), socket.create_connection((host, port), PATIENCE) as connection:
        connection.sendall(b"GET /health HTTP/1.0\r\nHost: 127.0.0.1\r\n\r\n")
        return connection.recv(16).startswith(b"HTTP/")
    return False


def is_free(host: str, port: int) -> bool:
    """Whether an address can be listened on.

    Raises
    ------
    OSError
        If this machine has no such address.
    """
    for family, kind, protocol, _, address in socket.getaddrinfo(host, port, type=socket.SOCK_STREAM):
        with socket.socket(family, kind, protocol) as listener:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                listener.bind(address)
            except OSError as error:
                if error.errno in _TAKEN:
                    return False
                raise
    return True
