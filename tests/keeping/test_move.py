import pytest
from django.contrib.auth import get_user_model
from django.db import connection, connections

from tests.keeping.conftest import digests, fill_the_log, sqlite
from trainlog.keeping import move as module
from trainlog.keeping.move import MoveRefused, move_database
from trainlog.keeping.rows import RowsRefused, compare, fill, rows_of
from trainlog.keeping.snapshots import another_database
from trainlog.keeping.tables import begun_tables
from trainlog.models import Athlete, Recording, Sensor

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def target(elsewhere):
    """Settings of an empty database to move into."""
    return sqlite(connections[elsewhere].settings_dict["NAME"])


@pytest.fixture
def log(elsewhere):
    """A log with a row of every kind."""
    fill_the_log()


def test_every_row_is_in_the_other_database_to_the_value_and_still_in_this_one(log, target, elsewhere):
    before = digests("default")
    moved = move_database(target)
    assert digests(elsewhere) == digests("default") == before == moved


def test_the_move_tells_the_rows_of_each_table(log, target):
    moved = move_database(target)
    assert moved["trainlog.recording"].rows == Recording.objects.count() == 6


def test_a_database_without_tables_is_given_them(log, tmp_path):
    path = tmp_path / "new.sqlite3"
    move_database(sqlite(path))
    with another_database("new", sqlite(path)) as alias:
        assert digests(alias) == digests("default")


def test_a_database_that_is_not_empty_is_refused_and_left_alone(log, target, elsewhere):
    get_user_model()(username="dora").save(using=elsewhere)
    with pytest.raises(MoveRefused, match="not empty"):
        move_database(target)
    assert get_user_model().objects.using(elsewhere).get().username == "dora"
    assert Athlete.objects.using(elsewhere).count() == 0


def test_the_database_in_use_is_no_target(log):
    ours = connection.settings_dict
    with pytest.raises(MoveRefused, match="in use already"):
        move_database({name: ours[name] for name in ("ENGINE", "NAME", "HOST", "PORT")})


def test_a_database_of_something_else_is_refused(log, tmp_path):
    path = tmp_path / "other.sqlite3"
    with another_database("other", sqlite(path)) as alias, connections[alias].cursor() as cursor:
        cursor.execute("CREATE TABLE notes (words text)")
    with pytest.raises(MoveRefused, match="something else"):
        move_database(sqlite(path))


def test_a_row_that_arrives_changed_undoes_the_whole_move(log, target, elsewhere, monkeypatch):
    changed = Sensor.objects.last().pk

    def meddled(*arguments):
        fill(*arguments)
        Sensor.objects.using("target").filter(pk=changed).update(name="another")

    monkeypatch.setattr(module, "fill", meddled)
    with pytest.raises(RowsRefused, match=rf"Row {changed} of trainlog\.sensor"):
        move_database(target)
    assert begun_tables(elsewhere) == []


def test_a_move_broken_off_leaves_the_other_database_empty(log, target, elsewhere, monkeypatch):
    def broken_off(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(module, "compare", broken_off)
    with pytest.raises(KeyboardInterrupt):
        move_database(target)
    assert begun_tables(elsewhere) == []


@pytest.mark.parametrize("pk", [1, 3, 6], ids=["the first", "one in the middle", "the last"])
def test_a_row_that_is_absent_is_noticed_wherever_it_was(log, target, elsewhere, pk):
    move_database(target)
    key = sorted(Recording.objects.values_list("pk", flat=True))[pk - 1]
    Recording.objects.using(elsewhere).filter(pk=key).delete()
    with pytest.raises(RowsRefused, match=f"Row {key} of"):
        compare(Recording, "default", elsewhere)


def test_what_is_written_while_a_move_goes_on_is_not_in_it(log, target, monkeypatch):
    """All of it is of one instant: the one at which it began."""
    names = {}

    def writing(models, alias, rows):
        get_user_model().objects.create(username="late")
        fill(models, alias, rows)
        names["moved"] = [row for row in rows_of(get_user_model(), alias) if "late" in row]

    monkeypatch.setattr(module, "fill", writing)
    move_database(target)
    assert names["moved"] == []
