"""One backup of a log in which every kind of row has a row, and databases to put it into."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest
from axes.models import AccessAttempt, AccessLog
from django.contrib.auth.models import Group
from django.core.management import call_command
from django.test import override_settings
from django_otp.plugins.otp_totp.models import TOTPDevice

from tests.full_log import full_log
from trainlog import originals
from trainlog.keeping.backup import backup
from trainlog.keeping.manifest import Manifest
from trainlog.keeping.rows import Digest, digest_of
from trainlog.keeping.snapshots import SQLITE, another_database
from trainlog.keeping.tables import kept
from trainlog.models import Deletion, SweepRun
from trainlog.services.second_step import new_codes

PUT_BACK = b"an original that only a deletion names"
NAMES = ("ana", "ben")


@dataclass(frozen=True)
class Kept:
    """A backup and what it was made from."""

    file: Path
    manifest: Manifest
    digests: dict[str, Digest]
    originals: dict[str, bytes]


def fill_the_log() -> None:
    """Make a row of every kind, for two athletes."""
    for name in NAMES:
        owner = full_log(name, "é½ ")
        owner.user.groups.add(Group.objects.create(name=name))
        Deletion.objects.of(owner).update(hashes=[originals.keep(owner.pk, PUT_BACK)], rows=b"\x00\xff")
        TOTPDevice.objects.create(user=owner.user, name="second step")
        new_codes(owner.user)
    SweepRun.objects.create(pk=SweepRun.THE_ONE)
    AccessAttempt.objects.create(username="ana", ip_address="192.0.2.1", failures_since_start=3)
    AccessLog.objects.create(username="ana", ip_address="2001:db8::1")


def digests(alias: str) -> dict[str, Digest]:
    """Digest of every kept table of a database."""
    return {model._meta.label_lower: digest_of(model, alias) for model in kept()}


def files_under(folder: Path) -> dict[str, bytes]:
    """Originals of a data folder, by their paths in it."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in (folder / "originals").rglob("*")
        if path.is_file()
    }


@pytest.fixture(scope="session")
def kept_log(django_db_setup, django_db_blocker, tmp_path_factory):
    """A backup of the full log; the log itself is gone again."""
    folder = tmp_path_factory.mktemp("kept")
    with django_db_blocker.unblock(), override_settings(DATA_FOLDER=folder):
        try:
            fill_the_log()
            file, manifest = backup(folder)
            return Kept(file, manifest, digests("default"), files_under(folder))
        finally:
            call_command("flush", interactive=False, verbosity=0)


@pytest.fixture(scope="session")
def template(django_db_setup, django_db_blocker, tmp_path_factory):
    """A migrated database without a row of anyone's."""
    path = tmp_path_factory.mktemp("template") / "empty.sqlite3"
    with django_db_blocker.unblock(), another_database("template", sqlite(path)) as alias:
        call_command("migrate", database=alias, interactive=False, verbosity=0)
    return path


@pytest.fixture
def the_database(transactional_db, django_db_blocker):
    """The tests' database without a transaction around it, and with others beside it."""
    with django_db_blocker.unblock():
        yield


@pytest.fixture
def elsewhere(template, tmp_path, settings, the_database):
    """An empty database of its own, with an empty data folder."""
    settings.DATA_FOLDER = tmp_path / "elsewhere"
    settings.DATA_FOLDER.mkdir(mode=0o700)
    path = settings.DATA_FOLDER / "trainlog.sqlite3"
    shutil.copyfile(template, path)
    with another_database("elsewhere", sqlite(path)) as alias:
        yield alias


def sqlite(path: Path) -> dict[str, object]:
    """Settings of a SQLite file that need not outlive a power cut."""
    return {"ENGINE": SQLITE, "NAME": str(path), "OPTIONS": {"init_command": "PRAGMA synchronous=OFF"}}
