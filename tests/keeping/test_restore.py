import json
import shutil
import zipfile

import pytest
from django.contrib.auth import get_user_model
from django.db import connections
from django.db.migrations.executor import MigrationExecutor
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.keeping.conftest import digests, files_under, sqlite
from trainlog import originals
from trainlog.keeping import restore as module
from trainlog.keeping.manifest import Damaged, Manifest, Table
from trainlog.keeping.read_archive import verify
from trainlog.keeping.restore import RestoreRefused, restore
from trainlog.keeping.rows import Digest, Digester, RowsRefused, rows_of
from trainlog.keeping.snapshots import another_database
from trainlog.keeping.tables import begun_tables
from trainlog.keeping.values import RowForm, columns_of
from trainlog.keeping.write_archive import whole_or_not_there
from trainlog.models import LoadEstimate, Recording

pytestmark = pytest.mark.django_db(transaction=True)


def rewritten(kept_log, path, change):
    """A copy of the backup with its manifest changed."""
    with zipfile.ZipFile(kept_log.file) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "manifest.json":
                said = json.loads(content)
                change(said)
                content = json.dumps(said).encode()
            new.writestr(name, content)
    return path


def nothing_was_done(alias, folder):
    return begun_tables(alias) == [] and not (folder / "originals").exists()


def test_every_row_comes_back_to_the_value_and_every_original_to_the_byte(kept_log, elsewhere, settings):
    assert restore(kept_log.file, elsewhere) == kept_log.manifest
    assert digests(elsewhere) == kept_log.digests
    assert files_under(settings.DATA_FOLDER) == kept_log.originals


def test_draws_and_traces_come_back_to_the_bit(kept_log, elsewhere):
    restore(kept_log.file, elsewhere)
    estimate = LoadEstimate.objects.using(elsewhere).first()
    assert estimate.load.tolist() == [40.0] * 512
    trace = Recording.objects.using(elsewhere).filter(file_name__endswith="w.csv").first().trace()
    assert trace.heart_rate.tolist() == [130.0] * 600


def test_what_is_added_after_a_restore_gets_keys_of_its_own(kept_log, elsewhere):
    restore(kept_log.file, elsewhere)
    users = get_user_model().objects.using(elsewhere)
    taken = set(users.values_list("pk", flat=True))
    assert get_user_model()(username="carla").save(using=elsewhere) is None
    assert users.get(username="carla").pk not in taken


def test_an_installation_without_any_table_is_given_them(kept_log, elsewhere, settings):
    path = settings.DATA_FOLDER / "trainlog.sqlite3"
    connections[elsewhere].close()
    path.unlink()
    restore(kept_log.file, elsewhere)
    assert digests(elsewhere) == kept_log.digests


def test_an_installation_with_a_user_is_refused(kept_log, elsewhere, settings):
    get_user_model()(username="dora").save(using=elsewhere)
    with pytest.raises(RestoreRefused, match=r"not empty: there are rows in auth\.user"):
        restore(kept_log.file, elsewhere)
    assert not (settings.DATA_FOLDER / "originals").exists()


def test_a_second_restore_is_refused(kept_log, elsewhere):
    restore(kept_log.file, elsewhere)
    with pytest.raises(RestoreRefused, match="not empty"):
        restore(kept_log.file, elsewhere)
    assert digests(elsewhere) == kept_log.digests


def test_a_backup_of_a_newer_version_is_refused(kept_log, elsewhere, settings, tmp_path):
    newer = rewritten(
        kept_log, tmp_path / "newer.zip", lambda said: said["migrations"].append(["trainlog", "9999_later"])
    )
    with pytest.raises(RestoreRefused, match="newer version"):
        restore(newer, elsewhere)
    assert nothing_was_done(elsewhere, settings.DATA_FOLDER)


def test_a_backup_of_a_newer_format_is_refused(kept_log, elsewhere, settings, tmp_path):
    newer = rewritten(kept_log, tmp_path / "newer.zip", lambda said: said.update(format=2))
    with pytest.raises(Damaged, match="format 2"):
        restore(newer, elsewhere)
    assert nothing_was_done(elsewhere, settings.DATA_FOLDER)


@pytest.mark.parametrize("part", ["rows/trainlog.recording.jsonl.zst", "originals/"])
def test_a_damaged_member_is_refused_before_anything_is_done(kept_log, elsewhere, settings, tmp_path, part):
    damaged = tmp_path / "damaged.zip"
    shutil.copyfile(kept_log.file, damaged)
    with zipfile.ZipFile(damaged) as archive:
        info = next(info for info in archive.infolist() if info.filename.startswith(part))
    content = bytearray(damaged.read_bytes())
    content[info.header_offset + 30 + len(info.filename) + info.compress_size // 2] ^= 0x55
    damaged.write_bytes(content)
    with pytest.raises(Damaged):
        restore(damaged, elsewhere)
    assert nothing_was_done(elsewhere, settings.DATA_FOLDER)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_byte_changed_anywhere_is_noticed_or_changes_nothing(kept_log, tmp_path, data):
    content = bytearray(kept_log.file.read_bytes())
    place = data.draw(st.integers(0, len(content) - 1))
    content[place] ^= data.draw(st.integers(1, 255))
    changed = tmp_path / "changed.zip"
    changed.write_bytes(content)
    try:
        manifest = verify(changed)
    except Damaged:
        return
    assert manifest == kept_log.manifest


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_backup_that_was_cut_off_is_refused(kept_log, tmp_path, data):
    content = kept_log.file.read_bytes()
    cut = tmp_path / "cut.zip"
    cut.write_bytes(content[: data.draw(st.integers(0, len(content) - 1))])
    with pytest.raises(Damaged):
        verify(cut)


def test_a_file_that_is_no_backup_is_refused(tmp_path):
    other = tmp_path / "other.zip"
    with zipfile.ZipFile(other, "w") as archive:
        archive.writestr("something", b"else")
    with pytest.raises(Damaged, match=r"manifest\.json cannot be read"):
        verify(other)


@pytest.mark.parametrize(
    "change",
    [
        lambda said: said["originals"].update({"../..": ["a" * 64]}),
        lambda said: said["originals"].update({"1": ["../../secret_key"]}),
        lambda said: said["tables"].pop(),
        lambda said: said.pop("tables"),
        lambda said: said["tables"][5].update(rows=12345),
        lambda said: said.update(more="than is known"),
    ],
)
def test_a_manifest_that_was_tampered_with_is_refused(kept_log, tmp_path, change):
    with pytest.raises(Damaged):
        verify(rewritten(kept_log, tmp_path / "changed.zip", change))


def test_rows_that_would_come_back_changed_are_not_kept(kept_log, elsewhere, monkeypatch):
    monkeypatch.setattr(module, "digest_of", lambda model, alias: Digest(0, ""))
    with pytest.raises(RowsRefused, match="back changed"):
        restore(kept_log.file, elsewhere)
    assert begun_tables(elsewhere) == []


def test_a_restore_broken_off_among_the_rows_leaves_none_and_can_be_repeated(
    kept_log, elsewhere, monkeypatch
):
    fill = module.fill

    def broken_off(*arguments):
        fill(*arguments)
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(module, "fill", broken_off)
        with pytest.raises(KeyboardInterrupt):
            restore(kept_log.file, elsewhere)
    assert begun_tables(elsewhere) == []
    restore(kept_log.file, elsewhere)
    assert digests(elsewhere) == kept_log.digests


def test_originals_are_there_before_the_first_row_is(kept_log, elsewhere, settings, monkeypatch):
    there = []
    fill = module.fill

    def watched(*arguments):
        there.append(files_under(settings.DATA_FOLDER))
        fill(*arguments)

    monkeypatch.setattr(module, "fill", watched)
    restore(kept_log.file, elsewhere)
    assert there == [kept_log.originals]


def test_an_original_that_cannot_be_written_leaves_no_row(kept_log, elsewhere, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(originals, "keep", full)
    with pytest.raises(OSError, match="No space"):
        restore(kept_log.file, elsewhere)
    assert begun_tables(elsewhere) == []


def test_a_row_that_names_one_that_is_not_there_is_refused(kept_log, elsewhere, monkeypatch):
    rows = module.Archive.rows
    monkeypatch.setattr(
        module.Archive,
        "rows",
        lambda self, table: iter(()) if table.model == "trainlog.workout" else rows(self, table),
    )
    monkeypatch.setattr(module.Archive, "check", lambda self: None)
    with pytest.raises(RowsRefused, match="another that is not there"):
        restore(kept_log.file, elsewhere)
    assert begun_tables(elsewhere) == []


def test_a_backup_of_an_earlier_version_is_restored_and_brought_up_to_date(elsewhere, settings, tmp_path):
    """Its tables are made as they then were, its rows put in, and the later migrations applied to them."""
    older = tmp_path / "older.zip"
    _backup_of_an_earlier_version(older, tmp_path / "earlier.sqlite3")
    restore(older, elsewhere)
    executor = MigrationExecutor(connections[elsewhere])
    assert executor.migration_plan(executor.loader.graph.leaf_nodes()) == []
    assert get_user_model().objects.using(elsewhere).get().username == "eve"
    athlete = module.ContentType.objects.using(elsewhere).get(app_label="trainlog", model="athlete")
    row = athlete.model_class().objects.using(elsewhere).get()
    assert (row.seed, row.near_per_cent, row.measure) == (7, 10, "trimp")
    assert digests(elsewhere)["trainlog.checkin"].rows == 0


def _backup_of_an_earlier_version(path, database):
    """Write a backup as the first version would have."""
    with another_database("earlier", sqlite(database)) as alias:
        executor = MigrationExecutor(connections[alias])
        others = [
            node for node in executor.loader.graph.leaf_nodes() if node[0] not in {"trainlog", "accuracy"}
        ]
        nodes = [*others, ("trainlog", "0001_initial"), ("accuracy", "0001_initial")]
        executor.migrate(nodes)
        apps = executor.loader.project_state(nodes).apps
        user = apps.get_model("auth", "User").objects.using(alias).create(username="eve")
        apps.get_model("trainlog", "Athlete").objects.using(alias).create(user=user, seed=7)
        tables = []
        with whole_or_not_there(path, path.parent) as archive:
            for model in apps.get_models(include_auto_created=True):
                if model._meta.label_lower == "sessions.session":
                    continue
                label, columns = model._meta.label_lower, columns_of(model)
                digester = Digester(RowForm(columns))
                archive.add_rows(f"rows/{label}", digester.passing(rows_of(model, alias)))
                names = [column.attname for column in columns]
                tables.append(Table(label, f"rows/{label}", names, *digester.digest))
            applied = sorted(map(list, executor.recorder.applied_migrations()))
            archive.add_manifest(
                Manifest("0.0.1", "2026-01-01", "sqlite", applied, tables, archive.members, {}, {})
            )
