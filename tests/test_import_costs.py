import os
import subprocess
import sys
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[1]
CORE = sorted(
    [
        "trainlog.trace",
        "trainlog.trace_blob",
        "trainlog.readers",
        *(f"trainlog.load.{path.stem}" for path in (PROJECT / "trainlog/load").glob("[!_]*.py")),
        *(
            ".".join(path.relative_to(PROJECT).with_suffix("").parts)
            for path in (PROJECT / "accuracy/core").rglob("[!_]*.py")
        ),
    ]
)


@pytest.fixture(scope="module")
def loaded():
    """What is loaded once the whole pure core is."""
    script = f"import sys, {', '.join(CORE)}\nprint(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=PROJECT, capture_output=True, text=True, check=True
    )
    return set(done.stdout.split())


@pytest.mark.parametrize("library", ["django", "celery", "ninja", "altair", "vl_convert"])
def test_the_pure_core_can_be_used_from_a_notebook_without(loaded, library):
    assert set(CORE) <= loaded
    assert library not in loaded


def test_a_worker_loads_no_parquet_library_before_a_parquet_file_is_asked_for():
    script = (
        "import sys, django\n"
        "django.setup()\n"
        "import trainlog.services.exports, accuracy.tasks, trainlog.tasks\n"
        "print(*sys.modules)"
    )
    environment = os.environ | {"DJANGO_SETTINGS_MODULE": "tests.settings"}
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=PROJECT,
        capture_output=True,
        text=True,
        check=True,
        env=environment,
    )
    assert "trainlog.services.exports" in done.stdout.split()
    assert "pyarrow" not in done.stdout.split()
