# mypy: disable-error-code="union-attr"

import io
import zipfile
from datetime import timedelta

import pytest
from django.utils import timezone

from tests.builders import MORNING, athlete, csv_file, imported, sensor, strap
from trainlog import originals
from trainlog.models import Part, Recording, Workout
from trainlog.readers.delimited_columns import CsvColumns
from trainlog.readers.errors import UnreadableFile
from trainlog.services import import_files
from trainlog.services.import_files import read_again, read_recording, receive, receive_all

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("data_folder")]

NO_HEART_RATE = b"time,speed\n2026-03-02T06:30:00Z,3.1\n2026-03-02T06:30:01Z,3.2\n"


@pytest.fixture
def woken(monkeypatch, django_capture_on_commit_callbacks):
    tasks: list[tuple] = []
    monkeypatch.setattr(import_files, "wake", lambda *task: tasks.append(task))
    return tasks


def rows_of(owner):
    """Everything that importing may write, key by key."""
    return (
        list(Recording.objects.of(owner).values()),
        list(Workout.objects.of(owner).values()),
        list(Part.objects.of(owner).values()),
    )


def test_a_file_becomes_a_recording_in_a_workout_with_a_part():
    owner = athlete()
    recording = imported(owner, csv_file(minutes=10, bpm=140, sports=("rowing",)), "row.csv")
    assert (recording.state, recording.file_name, recording.format) == ("read", "row.csv", "csv")
    assert (recording.start, recording.seconds) == (MORNING, 600)
    assert list(recording.trace().heart_rate) == [140] * 600
    assert recording.workout.parts.get().activity.slug == "row"


def test_a_file_is_kept_before_anything_reads_it():
    owner = athlete()
    recording = receive(owner, "a.csv", csv_file())
    assert recording.state == "received"
    assert originals.read(owner.pk, recording.sha256) == csv_file()


def test_a_worker_is_woken_once_the_row_is_committed(woken, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks() as committed:
        receive(athlete(), "a.csv", csv_file())
    assert woken == []
    for call in committed:
        call()
    assert woken == [(import_files.READ_TASK,)]


def test_the_same_bytes_twice_change_nothing():
    owner = athlete()
    first = imported(owner, csv_file(), "a.csv")
    before = rows_of(owner)
    assert imported(owner, csv_file(), "the same under another name.csv") == first
    assert rows_of(owner) == before


def test_a_file_that_waits_already_wakes_nobody_again(woken, django_capture_on_commit_callbacks):
    owner = athlete()
    receive(owner, "a.csv", csv_file())
    with django_capture_on_commit_callbacks(execute=True):
        receive(owner, "b.csv", csv_file())
    assert woken == []


def test_reading_twice_changes_nothing():
    owner = athlete()
    recording = imported(owner, csv_file())
    before = rows_of(owner)
    read_recording(recording.pk)
    assert rows_of(owner) == before


def test_two_workers_with_the_same_task_place_the_recording_once(monkeypatch):
    owner = athlete()
    recording = receive(owner, "a.csv", csv_file())
    read = import_files.readers.read

    def read_while_another_finishes(*args, **kwargs):
        monkeypatch.setattr(import_files.readers, "read", read)
        read_recording(recording.pk)
        return read(*args, **kwargs)

    monkeypatch.setattr(import_files.readers, "read", read_while_another_finishes)
    read_recording(recording.pk)
    assert Workout.objects.of(owner).count() == Part.objects.of(owner).count() == 1
    assert Part.objects.of(owner).get().input_revision == 2


def test_reading_a_recording_that_was_deleted_is_no_error():
    recording = receive(athlete(), "a.csv", csv_file())
    pk = recording.pk
    recording.delete()
    read_recording(pk)


def test_a_log_that_is_deleted_while_its_file_is_read_stays_deleted(monkeypatch):
    ana = athlete()
    recording = receive(ana, "ride.csv", csv_file(MORNING, minutes=2))
    pack = import_files.trace_blob.pack

    def delete_meanwhile(trace):
        ana.user.delete()
        return pack(trace)

    monkeypatch.setattr(import_files.trace_blob, "pack", delete_meanwhile)
    read_recording(recording.pk)
    assert not Recording.objects.exists()
    assert not Workout.objects.exists()


def test_a_file_without_heart_rate_is_refused_with_what_and_remedy_and_its_bytes_are_kept():
    owner = athlete()
    recording = imported(owner, NO_HEART_RATE, "speed.csv")
    assert (recording.state, recording.file_name) == ("refused", "speed.csv")
    assert "heart rate" in recording.problem
    assert recording.workout is None
    assert originals.read(owner.pk, recording.sha256) == NO_HEART_RATE


def test_a_refusal_says_where_in_the_file_the_trouble_is(monkeypatch):
    def refuse(*args, **kwargs):
        raise UnreadableFile("The times run backwards", where="line 12", remedy="Export it again.")

    monkeypatch.setattr(import_files.readers, "read", refuse)
    assert imported(athlete(), b"anything").problem == "The times run backwards (line 12). Export it again."


def test_a_refused_file_leaves_no_workout():
    owner = athlete()
    imported(owner, NO_HEART_RATE)
    assert Workout.objects.of(owner).count() == 0


def test_the_other_files_of_a_drop_are_imported():
    owner = athlete()
    drop = [b"\x00\x01\x02", csv_file(), NO_HEART_RATE, csv_file(MORNING + timedelta(hours=5))]
    states = [imported(owner, content, f"{i}.csv").state for i, content in enumerate(drop)]
    assert states == ["refused", "read", "refused", "read"]
    assert Workout.objects.of(owner).count() == 2


def test_a_file_from_the_future_is_refused():
    next_year = timezone.now().replace(microsecond=0) + timedelta(days=365)
    recording = imported(athlete(), csv_file(next_year))
    assert recording.state == "refused"
    assert "future" in recording.problem


def test_an_empty_file_is_refused_at_the_door_and_nothing_is_stored(data_folder):
    with pytest.raises(UnreadableFile, match="empty"):
        receive(athlete(), "a.csv", b"")
    assert not Recording.objects.exists()
    assert list(data_folder.iterdir()) == []


def test_an_oversized_file_is_refused_at_the_door_and_nothing_is_stored(settings, data_folder):
    settings.MAX_FILE_BYTES = 1024 * 1024
    with pytest.raises(UnreadableFile, match=r"1\.1 MB, more than the 1 MB") as refusal:
        receive(athlete(), "a.csv", b"x" * int(1.1 * 1024 * 1024))
    assert "TRAINLOG_MAX_FILE_MB" in refusal.value.remedy
    assert not Recording.objects.exists()
    assert list(data_folder.iterdir()) == []


def test_a_crash_between_the_bytes_and_the_row_is_mended_by_the_next_upload(monkeypatch):
    owner = athlete()

    def killed(*args, **kwargs):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(Recording.objects, "get_or_create", killed)
        with pytest.raises(KeyboardInterrupt):
            receive(owner, "a.csv", csv_file())
    assert not Recording.objects.exists()
    assert imported(owner, csv_file()).state == "read"


def test_a_crash_while_the_recording_is_placed_leaves_it_waiting_whole(monkeypatch):
    owner = athlete()
    recording = receive(owner, "a.csv", csv_file())

    def killed(*args):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(import_files, "place", killed)
        with pytest.raises(KeyboardInterrupt):
            read_recording(recording.pk)
    recording.refresh_from_db()
    assert (recording.state, recording.trace_blob) == ("received", None)
    read_recording(recording.pk)
    assert Workout.objects.of(owner).count() == 1


def test_a_lost_original_is_said_and_uploading_it_again_mends_it():
    owner = athlete()
    recording = receive(owner, "a.csv", csv_file())
    originals.path_of(owner.pk, recording.sha256).write_bytes(b"rotten")
    read_recording(recording.pk)
    recording.refresh_from_db()
    assert recording.state == "refused"
    assert "Upload the file again" in recording.problem
    assert imported(owner, csv_file()).state == "read"


def test_a_refused_file_is_read_again_on_request():
    recording = imported(athlete(), NO_HEART_RATE)
    read_again(recording)
    recording.refresh_from_db()
    assert (recording.state, recording.problem) == ("received", "")


def test_a_recording_that_was_read_is_not_read_again():
    recording = imported(athlete(), csv_file())
    read_again(recording)
    recording.refresh_from_db()
    assert recording.state == "read"


def test_the_sensor_is_recognised_by_how_its_files_name_their_source():
    owner = athlete()
    known = sensor(owner, source_key="csv:wrist 1")
    strap(owner, source_key="csv:strap 1")
    assert imported(owner, csv_file(device="wrist 1")).sensor == known


def test_the_sensor_of_an_unknown_source_stays_open():
    owner = athlete()
    sensor(owner, source_key="csv:wrist 1")
    assert imported(owner, csv_file(device="wrist 2")).sensor is None


def test_a_sensor_of_another_athlete_is_never_taken():
    sensor(athlete("ben"), source_key="csv:wrist 1")
    assert imported(athlete("ana"), csv_file(device="wrist 1")).sensor is None


def test_the_longest_name_of_a_source_fits_its_column():
    recording = imported(athlete(), csv_file(device="x" * 300))
    recording.full_clean(exclude=["owner", "sensor", "workout", "segments", "notes", "trace_blob"])


def test_the_end_of_a_very_long_file_name_is_kept():
    recording = receive(athlete(), "x" * 300 + ".csv", csv_file())
    assert len(recording.file_name) == 255
    assert recording.file_name.endswith("x.csv")


def unlabelled(start=MORNING):
    """Text in which nothing says which column is the heart rate, or when it began."""
    rows = "\n".join(f"{second},{120 + second % 7},{130 + second % 5}" for second in range(600))
    return f"one,two,three\n{rows}\n".encode()


def test_a_refused_text_file_is_read_once_the_athlete_tells_its_columns_and_start():
    recording = imported(athlete(), unlabelled())
    assert recording.state == Recording.State.REFUSED
    read_again(recording, CsvColumns(time="one", heart_rate="3", start=MORNING))
    read_recording(recording.pk)
    recording.refresh_from_db()
    assert recording.state == Recording.State.READ
    assert recording.start == MORNING
    assert recording.trace().heart_rate[0] == 130


def test_what_was_told_of_a_text_file_holds_for_the_next_reading_too():
    recording = imported(athlete(), unlabelled())
    for columns in (CsvColumns(time="one", heart_rate="3", start=MORNING), None):
        read_again(recording, columns)
        read_recording(recording.pk)
        recording.refresh_from_db()
    assert recording.trace().heart_rate[0] == 130


def test_a_wrong_start_told_is_put_right_and_no_empty_workout_stays():
    owner = athlete()
    recording = imported(owner, unlabelled())
    for start in (MORNING - timedelta(days=3), MORNING):
        read_again(recording, CsvColumns(time="one", heart_rate="3", start=start))
        read_recording(recording.pk)
        recording.refresh_from_db()
    assert [workout.start for workout in Workout.objects.of(owner)] == [MORNING]


def test_columns_told_once_hold_for_the_next_file_with_the_same_header():
    owner = athlete()
    first = imported(owner, unlabelled())
    read_again(first, CsvColumns(time="one", heart_rate="3", start=MORNING))
    read_recording(first.pk)
    second = imported(owner, b"# start: 2026-03-05T06:30:00Z\n" + unlabelled())
    assert second.state == Recording.State.READ
    assert second.trace().heart_rate[0] == 130


def test_columns_told_by_another_athlete_are_not_used():
    theirs = imported(athlete("ben"), unlabelled())
    read_again(theirs, CsvColumns(time="one", heart_rate="3", start=MORNING))
    read_recording(theirs.pk)
    mine = imported(athlete("ana"), b"# start: 2026-03-05T06:30:00Z\n" + unlabelled())
    assert mine.state == Recording.State.REFUSED


def zipped(**files):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, content in files.items():
            archive.writestr(f"{name}.csv", content)
    return packed.getvalue()


def test_every_file_of_a_zip_becomes_a_recording_of_its_own():
    owner = athlete()
    received = receive_all(owner, "week.zip", zipped(one=csv_file(bpm=120), two=csv_file(bpm=140)))
    assert [row.file_name for row in received.recordings] == ["one.csv", "two.csv"]
    assert received.refusals == []


def test_an_empty_file_in_a_zip_does_not_hold_up_the_others():
    received = receive_all(athlete(), "week.zip", zipped(empty=b"", good=csv_file()))
    assert [row.file_name for row in received.recordings] == ["good.csv"]
    assert [refusal.name for refusal in received.refusals] == ["empty.csv"]


def test_a_damaged_zip_is_refused_with_nothing_kept():
    owner = athlete()
    received = receive_all(owner, "week.zip", zipped(good=csv_file())[:-30])
    assert "damaged" in received.refusals[0].problem
    assert not Recording.objects.of(owner).exists()


def test_a_refused_file_says_what_would_make_it_readable():
    owner = athlete()
    asks = {
        imported(owner, content).asks_for
        for content in (
            unlabelled(),
            b"time,hr\n" + b"\n".join(b"%d,120" % s for s in range(600)),
            NO_HEART_RATE,
        )
    }
    assert asks == {"columns", "start"}
