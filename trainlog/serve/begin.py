"""First program of every child: ties it to the supervisor, then becomes the program that is wanted.

Run as a script, ``begin.py HOLD_DESCRIPTOR SUPERVISOR_PID PROGRAM ARGUMENT...``; it needs nothing but the
standard library.
"""

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1


def end_with_parent(parent: int) -> None:
    """Have the kernel end this process with its parent, where it can (Linux)."""
    if sys.platform == "linux":
        ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    if os.getppid() != parent:  # it ended before the kernel knew
        os._exit(1)


def main() -> None:
    """Note the process in its hold file, and become the program."""
    hold, parent, program = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3:]
    os.ftruncate(hold, 0)
    os.pwrite(hold, str(os.getpid()).encode(), 0)
    end_with_parent(parent)
    os.execv(program[0], program)


if __name__ == "__main__":
    main()
