"""A whole log is taken along and comes back the same, row by row and estimate by estimate."""

import csv
import io
import json
import zipfile
from datetime import date, timedelta

import pytest
from django.core.files.base import ContentFile

from accuracy.services.learn import learn
from fixtures.demo.scenario import scenario
from tests.builders import MORNING, athlete, csv_file, equipped_athlete, imported, part
from tests.full_log import full_log
from trainlog import models as log
from trainlog import originals
from trainlog.models import Athlete, IntensityEstimate, LoadEstimate, Recording
from trainlog.services import import_all as importing
from trainlog.services.athletes import add_activity, open_log
from trainlog.services.demo_scenario import load_scenario
from trainlog.services.export_all import export_all
from trainlog.services.import_all import ImportRefused, import_all, is_empty
from trainlog.services.unknown_days import mark_unknown
from trainlog.services.whole_log import LEFT_OUT, MANIFEST, NOT_IN_ROWS, OF_THE_ATHLETE, TABLES, fields_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]


@pytest.fixture
def ana():
    """Ana's log has a row of every kind."""
    return full_log("ana", "zebra")


@pytest.fixture
def ben():
    return athlete("ben", seed=2)


def whole(owner):
    with export_all(owner) as file:
        return file.read()


def repacked(content, *, without=(), **changed):
    """Export with some members changed or left out; its manifest as it was unless changed too."""
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as before, zipfile.ZipFile(target, "w") as after:
        for name in before.namelist():
            if name not in without:
                after.writestr(name, changed.pop(name, None) or before.read(name))
        for name, data in changed.items():
            after.writestr(name, data)
    return target.getvalue()


def refused(owner, content):
    """Words of the refusal; nothing is in the log then, and nothing on disk."""
    with pytest.raises(ImportRefused) as refusal:
        import_all(owner, ContentFile(content).file)
    assert is_empty(owner)
    assert originals.count(owner.pk) == 0
    return str(refusal.value)


def rows(owner):
    """All that was given, with links as places instead of keys."""
    places = {model: {pk: place for place, pk in enumerate(keys_of(model, owner))} for model in TABLES}
    found = {}
    for model in TABLES:
        found[model.__name__] = []
        for row in model.objects.filter(owner=owner).order_by("pk"):
            said = {}
            for field in model._meta.concrete_fields:
                if field.name in {"id", "owner", "claimed_until"}:
                    continue
                value = getattr(row, field.attname)
                if field.is_relation and value is not None:
                    value = places[field.related_model][value]
                said[field.name] = bytes(value) if isinstance(value, memoryview) else value
            for field in model._meta.local_many_to_many:
                linked = getattr(row, field.name).values_list("pk", flat=True)
                said[field.name] = sorted(places[field.related_model][pk] for pk in linked)
            found[model.__name__].append(said)
    return found


def keys_of(model, owner):
    return model.objects.filter(owner=owner).order_by("pk").values_list("pk", flat=True)


def estimates(owner):
    """Every draw of every estimate that is shown."""
    owner.refresh_from_db()
    loads = LoadEstimate.objects.of(owner).filter(source=owner.current_source)
    minutes = IntensityEstimate.objects.of(owner).filter(source=owner.current_source)
    return (
        {
            (row.part.start, row.measure): (
                *(bytes(drawn) for drawn in (row.all_draws, row.sensor_draws, row.physiology_draws)),
                row.basis,
                row.reason,
            )
            for row in loads.select_related("part")
        },
        {row.part.start: bytes(row.bands) for row in minutes.select_related("part")},
    )


def learned(owner):
    while not learn(owner):
        pass
    return estimates(owner)


def test_every_row_comes_back_as_it_was(ana, ben):
    came = import_all(ben, io.BytesIO(whole(ana)))
    before = rows(ana)
    assert [name for name, found in before.items() if not found] == []
    assert rows(ben) == before
    assert came.rows == sum(len(found) for found in before.values())


def test_every_original_comes_back_byte_for_byte(ana, ben):
    import_all(ben, io.BytesIO(whole(ana)))
    for sha256 in Recording.objects.of(ana).values_list("sha256", flat=True):
        assert originals.read(ben.pk, sha256) == originals.read(ana.pk, sha256)


def test_settings_and_seed_come_back(ana, ben):
    Athlete.objects.filter(pk=ana.pk).update(
        measure="zones", near_per_cent=7, time_zone="Asia/Tokyo", seed=77
    )
    import_all(ben, io.BytesIO(whole(ana)))
    assert (ben.measure, ben.near_per_cent, ben.time_zone, ben.seed) == ("zones", 7, "Asia/Tokyo", 77)
    assert ben.user.get_username() == "ben"


def test_the_log_learns_the_same_to_the_bit():
    demo = scenario(date(2025, 7, 13), 3)
    ana = open_log(athlete("someone").user)
    Athlete.objects.filter(pk=ana.pk).update(seed=demo.athlete.seed, time_zone=demo.athlete.time_zone)
    ana.refresh_from_db()
    for _ in load_scenario(ana, demo):
        pass
    before = learned(ana)
    ben = athlete("ben", seed=2)
    import_all(ben, io.BytesIO(whole(ana)))
    assert learned(ben) == before
    assert len(before[0]) > 40
    assert rows(ben) == rows(ana)


def test_a_table_of_the_log_is_exported_or_said_to_be_left_out():
    owned = {model.__name__ for model in (*TABLES,)} | set(LEFT_OUT)
    assert owned == {
        name for name in log.__all__ if hasattr(getattr(log, name), "owner") and name != "Athlete"
    }
    columns = {field.name for field in Athlete._meta.concrete_fields}
    assert columns - set(OF_THE_ATHLETE) == {"id", "user", "demo_for", "log_revision", "current_source"}
    assert all(NOT_IN_ROWS.isdisjoint(field.name for field in fields_of(model)) for model in TABLES)


def test_the_manifest_names_every_file_with_its_hash(ana):
    with zipfile.ZipFile(io.BytesIO(whole(ana))) as archive:
        manifest = json.loads(archive.read(MANIFEST))
        assert set(manifest["members"]) == set(archive.namelist()) - {MANIFEST}
        for name, said in manifest["members"].items():
            content = archive.read(name)
            assert (originals.digest(content), len(content)) == (said["sha256"], said["bytes"])


def test_what_was_estimated_is_there_to_read_with_units(ana):
    with zipfile.ZipFile(io.BytesIO(whole(ana))) as archive:
        (load,) = csv.DictReader(io.StringIO(archive.read("tables/loads.csv").decode()))
        described = {
            (row["table"], row["column"])
            for row in csv.DictReader(io.StringIO(archive.read("tables/columns.csv").decode()))
        }
        workouts = archive.read("tables/workouts.csv").decode()
    assert (load["measure"], load["load_median"]) == ("trimp", "40")
    assert {("loads", name) for name in load} <= described
    assert "zebrareason" in workouts


def test_the_names_of_originals_are_safe_to_unpack(ana):
    Recording.objects.filter(owner=ana).update(file_name="../../etc/odd\n name.csv")
    with zipfile.ZipFile(io.BytesIO(whole(ana))) as archive:
        names = [
            name.removeprefix("originals/") for name in archive.namelist() if name.startswith("originals/")
        ]
    assert len(names) == 3
    assert not [name for name in names if "/" in name or "\n" in name or name.startswith(".")]


def test_no_secret_of_a_program_is_in_it(ana):
    token = log.ApiToken.objects.of(ana).get()
    with zipfile.ZipFile(io.BytesIO(whole(ana))) as archive:
        assert not [name for name in archive.namelist() if token.sha256.encode() in archive.read(name)]


def test_a_file_that_is_lost_on_disk_is_said_and_the_rest_still_travels(ana, ben):
    lost = Recording.objects.of(ana).filter(state="read").first()
    originals.forget(ana.pk, lost.sha256)
    content = whole(ana)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert json.loads(archive.read(MANIFEST))["missing_originals"] == [lost.sha256]
        assert "1 file(s) were no longer whole" in archive.read("README.txt").decode()
    import_all(ben, io.BytesIO(content))
    assert rows(ben) == rows(ana)


def test_a_file_that_waits_to_be_read_is_read_in_the_new_log():
    ana, ben = equipped_athlete("ana", strap="belt", wrist="left"), athlete("ben")
    imported(ana, csv_file())
    Recording.objects.of(ana).update(state="received", trace_blob=None)
    import_all(ben, io.BytesIO(whole(ana)))
    assert Recording.objects.of(ben).get().state == "received"


@pytest.mark.parametrize("use", [part, lambda owner: mark_unknown(owner, MORNING.date(), MORNING.date())])
def test_a_log_that_is_in_use_takes_no_import(ana, ben, use):
    use(ben)
    before = rows(ben)
    with pytest.raises(ImportRefused, match="not empty"):
        import_all(ben, io.BytesIO(whole(ana)))
    assert rows(ben) == before


def test_activities_of_ones_own_are_not_lost_to_an_import(ana, ben):
    add_activity(ben, "Hill repeats", "intervals")
    with pytest.raises(ImportRefused, match="not empty"):
        import_all(ben, io.BytesIO(whole(ana)))


def test_a_foreign_zip_is_refused(ben):
    foreign = repacked(b"PK\x05\x06" + bytes(18), **{"morning.csv": b"1,2"})
    assert "no whole export" in refused(ben, foreign)
    assert "no whole export" in refused(ben, repacked(foreign, **{MANIFEST: b'{"format": "other"}'}))


@pytest.mark.parametrize("content", [b"", b"no zip at all", b"PK\x03\x04" + bytes(100)])
def test_what_is_no_zip_is_refused(ben, content):
    assert "damaged" in refused(ben, content)


def test_any_byte_that_is_not_what_it_was_is_noticed(ana, ben):
    content = whole(ana)
    for name in zipfile.ZipFile(io.BytesIO(content)).namelist():
        if name != MANIFEST:
            assert "is not what it was" in refused(ben, repacked(content, **{name: b"other"}))


def test_a_file_more_or_less_is_noticed(ana, ben):
    content = whole(ana)
    assert "missing from it" in refused(ben, repacked(content, without={"rows/stay.jsonl"}))
    assert "missing from it" in refused(ben, repacked(content, **{"rows/extra.jsonl": b"{}"}))


def test_an_export_cut_short_is_refused(ana, ben):
    content = whole(ana)
    assert "damaged" in refused(ben, content[: len(content) // 2])


def test_an_export_of_another_version_is_refused_by_its_number(ana, ben):
    content = whole(ana)
    manifest = json.loads(zipfile.ZipFile(io.BytesIO(content)).read(MANIFEST)) | {"version": 99}
    assert "version 99" in refused(ben, repacked(content, **{MANIFEST: json.dumps(manifest)}))


def forged(content, name, data):
    """Export in which a member was changed with its hash."""
    manifest = json.loads(zipfile.ZipFile(io.BytesIO(content)).read(MANIFEST))
    manifest["members"][name] = {"sha256": originals.digest(data), "bytes": len(data)}
    return repacked(content, **{name: data, MANIFEST: json.dumps(manifest)})


def lines(content, model):
    found = zipfile.ZipFile(io.BytesIO(content)).read(f"rows/{model}.jsonl").splitlines()
    return [json.loads(line) for line in found]


@pytest.mark.parametrize(
    ("model", "field", "value"),
    [
        ("part", "workout", 10**6),
        ("part", "end", "2001-01-01T00:00:00+00:00"),
        ("workout", "time_zone", "Atlantis/Deep"),
        ("workout", "tags", [10**6]),
        ("stay", "time_zone", "Atlantis"),
        ("recording", "sha256", "../../etc/passwd"),
        ("recording", "state", "odd"),
        ("checkin", "day", "yesterday"),
        ("sensor", "owner", 1),
    ],
)
def test_a_row_that_cannot_be_is_refused_with_all_others(ana, ben, model, field, value):
    content = whole(ana)
    changed = lines(content, model)
    changed[0]["fields"][field] = value
    data = b"\n".join(json.dumps(line).encode() for line in changed)
    assert "Nothing was imported" in refused(ben, forged(content, f"rows/{model}.jsonl", data))


def test_an_export_that_unpacks_without_end_is_refused(ana, ben, monkeypatch):
    monkeypatch.setattr(importing, "SMALL", 0)
    monkeypatch.setattr(importing, "LARGEST_RATIO", 1)
    assert "more than a log can hold" in refused(ben, whole(ana))
    monkeypatch.undo()
    monkeypatch.setattr(importing, "LARGEST_ROWS", 100)
    assert "unpacks to more than" in refused(ben, whole(ana))


def test_an_archive_of_too_many_files_is_refused_before_they_are_listed(ana, ben, monkeypatch):
    monkeypatch.setattr(importing, "MOST_MEMBERS", 10)
    assert "more than 10 files" in refused(ben, whole(ana))


def test_nothing_is_left_behind_where_the_database_refuses(ana, ben, monkeypatch):
    def broken(*_):
        raise OSError("the disk is full")

    monkeypatch.setattr(importing, "_write", broken)
    with pytest.raises(OSError, match="disk is full"):
        import_all(ben, io.BytesIO(whole(ana)))
    assert is_empty(ben)
    assert originals.count(ben.pk) == 0


def test_instants_keep_their_microseconds(ben):
    ana = athlete("ana")
    one = part(ana, MORNING + timedelta(microseconds=123456))
    import_all(ben, io.BytesIO(whole(ana)))
    assert log.Part.objects.of(ben).get().start == one.start
