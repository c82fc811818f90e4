"""Settings of the tests: nothing outside a temporary folder is touched, and no server is needed."""

import atexit
import os
import shutil
import tempfile

# Set before the real settings are read; a test that needs a server sets these itself.
if "TRAINLOG_DATA_FOLDER" not in os.environ:
    os.environ["TRAINLOG_DATA_FOLDER"] = tempfile.mkdtemp(prefix="trainlog-tests-")
    atexit.register(shutil.rmtree, os.environ["TRAINLOG_DATA_FOLDER"], ignore_errors=True)
os.environ.setdefault("TRAINLOG_SECRET_KEY", "only-for-tests")
os.environ.setdefault("TRAINLOG_BROKER_URL", "memory://")

from trainlog.settings import *  # noqa: F403
from trainlog.settings import DATA_FOLDER

DEBUG = False
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
STATIC_ROOT = DATA_FOLDER / "static"
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
