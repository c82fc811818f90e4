"""Settings of the tests: nothing outside a temporary folder is touched, and no server is needed."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

import hypothesis
import redis

# The same examples in every run: a property that fails does so again, and no slow machine fails one.
hypothesis.settings.register_profile("fixed", derandomize=True, deadline=None)
hypothesis.settings.load_profile("fixed")

# Whatever this machine's own log is set to, the tests never see it.
FOR_TESTS = ("TRAINLOG_SHARED", "TRAINLOG_TEST_")
for _name in [name for name in os.environ if name.startswith("TRAINLOG_")]:
    if not _name.startswith(FOR_TESTS):
        del os.environ[_name]

# Each of several test processes has a folder of its own, in the one that the first process made and removes.
_worker = os.environ.get("PYTEST_XDIST_WORKER")
if not _worker or "TESTS_FOLDER" not in os.environ:
    os.environ["TESTS_FOLDER"] = tempfile.mkdtemp(prefix="trainlog-tests-")
    atexit.register(shutil.rmtree, os.environ["TESTS_FOLDER"], ignore_errors=True)
    if "TEST_BROKER" in os.environ:
        # Nobody works at what the tests sent: the queue that was named for them is emptied.
        atexit.register(redis.Redis.from_url(os.environ["TEST_BROKER"]).flushdb)

os.environ["TRAINLOG_DATA_FOLDER"] = str(Path(os.environ["TESTS_FOLDER"]) / (_worker or "main"))
os.environ["TRAINLOG_SECRET_KEY"] = "only-for-tests"
# On SQLite and with no server, unless a run says otherwise: `make test-postgres`.
os.environ["TRAINLOG_BROKER_URL"] = os.environ.get("TEST_BROKER", "memory://")
if "TEST_DATABASE" in os.environ:
    os.environ["TRAINLOG_DATABASE_URL"] = os.environ["TEST_DATABASE"]

from trainlog.settings import *  # noqa: E402, F403
from trainlog.settings import DATA_FOLDER, DATABASES  # noqa: E402

if "TEST_DATABASE" in os.environ:
    # A name of its own lets two runs share a server; what a crash of the server would lose is lost anyway.
    DATABASES["default"]["TEST"] = {"NAME": Path(os.environ["TESTS_FOLDER"]).name.replace("-", "_")}
    DATABASES["default"]["OPTIONS"] = {"options": "-c synchronous_commit=off"}
else:
    # Made from the models in a tenth of the time that all migrations take; tests/migrations compares the two.
    DATABASES["default"]["TEST"] = {"MIGRATE": False}

DEBUG = False
API_READS_A_MINUTE = API_CHANGES_A_MINUTE = 0
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
STATIC_ROOT = DATA_FOLDER / "static"
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
