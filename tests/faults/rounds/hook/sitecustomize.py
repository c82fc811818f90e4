"""Found first by every process of an installation under test: a file that kills whoever reads it."""

import os
import signal
import sys

POISON = b"poisoned"


class _AfterReaders:
    """Replaces the reading of files, once their readers are imported."""

    def find_spec(self, name, path=None, target=None):
        readers = sys.modules.get("trainlog.readers")
        if readers is not None and hasattr(readers, "read"):
            sys.meta_path.remove(self)
            _poison(readers)


def _poison(readers):
    read = readers.read

    def deadly(content, **options):
        if POISON in content:
            os.kill(os.getpid(), signal.SIGKILL)
        return read(content, **options)

    readers.read = deadly


sys.meta_path.insert(0, _AfterReaders())
