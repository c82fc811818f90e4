import json
import uuid
from datetime import UTC, date, datetime, time, timedelta, timezone
from decimal import Decimal

import pytest
from django.db import connection, models
from hypothesis import given
from hypothesis import strategies as st

from trainlog.keeping.tables import kept
from trainlog.keeping.values import RowForm, columns_of

INSTANTS = st.datetimes(min_value=datetime(1900, 1, 1), timezones=st.just(UTC))
JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)
FIELDS = [
    (models.BigIntegerField(), st.integers(-(2**63), 2**63 - 1)),
    (models.FloatField(), st.floats(allow_nan=False)),
    (models.BooleanField(), st.booleans()),
    (models.TextField(), st.text()),
    (models.BinaryField(), st.binary()),
    (models.DateTimeField(), INSTANTS),
    (models.DateField(), st.dates()),
    (models.TimeField(), st.times()),
    (models.DurationField(), st.timedeltas(timedelta(days=-90_000), timedelta(days=90_000))),
    (models.UUIDField(), st.uuids()),
    (models.DecimalField(max_digits=12, decimal_places=4), st.decimals(-99_999, 99_999, places=4)),
    (models.JSONField(), JSON_VALUES),
]


def there_and_back(form, value):
    """Value after a stay in a file."""
    return json.loads(json.dumps(form.plain([value])))


def for_database(form, plain):
    """Parameters of a row, out of what the driver of PostgreSQL wraps them in and does not compare."""
    return [getattr(parameter, "obj", parameter) for parameter in form.for_database(plain, connection)]


@pytest.mark.parametrize(("field", "values"), FIELDS, ids=lambda value: type(value).__name__)
def test_a_value_is_the_same_after_a_stay_in_a_file(field, values):
    form = RowForm([field])

    @given(values)
    def holds(value):
        plain = there_and_back(form, value)
        assert form.canonical(plain) == form.canonical(form.plain([value]))
        assert for_database(form, plain) == for_database(form, form.plain([value]))

    holds()


@given(INSTANTS, st.binary(min_size=1), st.uuids())
def test_different_values_have_different_canonical_forms(instant, content, key):
    fields = [models.DateTimeField(), models.BinaryField(), models.UUIDField()]
    form = RowForm(fields)
    row = [instant, content, key]
    others = [instant + timedelta(microseconds=1), content + b"\0", uuid.UUID(int=key.int ^ 1)]
    for place, other in enumerate(others):
        changed = [*row[:place], other, *row[place + 1 :]]
        assert form.canonical(form.plain(changed)) != form.canonical(form.plain(row))


@given(JSON_VALUES)
def test_json_is_equal_in_whatever_order_its_keys_are_kept(value):
    form = RowForm([models.JSONField()])

    def turned(inner):
        if isinstance(inner, dict):
            return {key: turned(inner[key]) for key in reversed(inner)}
        return [turned(one) for one in inner] if isinstance(inner, list) else inner

    assert form.canonical([value]) == form.canonical([turned(value)])


def test_json_numbers_are_equal_however_a_database_writes_them_and_never_equal_a_text():
    form = RowForm([models.JSONField()])
    assert form.canonical([1.0]) == form.canonical([1])
    assert form.canonical([1e23]) == form.canonical([10**23])
    assert form.canonical([0.1]) != form.canonical([0.1 + 2**-55])
    assert form.canonical([1]) != form.canonical([True])
    assert form.canonical([1]) != form.canonical(["1"])


def test_an_instant_is_the_same_in_any_zone():
    form = RowForm([models.DateTimeField()])
    noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    assert form.plain([noon]) == form.plain([noon.astimezone(timezone(timedelta(hours=5, minutes=45)))])


def test_jsons_null_does_not_become_an_empty_column():
    form = RowForm([models.JSONField()])
    (parameter,) = form.for_database([None], connection)
    assert parameter is not None
    assert json.loads(json.dumps(getattr(parameter, "obj", parameter))) in {None, "null"}


def test_every_column_of_every_table_can_be_kept():
    assert all(RowForm(columns_of(model)) for model in kept())


def test_a_kind_of_value_that_nobody_said_how_to_keep_is_refused():
    class Unheard(models.Field):
        def get_internal_type(self):
            return "UnheardField"

    with pytest.raises(TypeError, match="UnheardField"):
        RowForm([Unheard()])


def test_plain_values_are_readable():
    fields = [models.DateField(), models.TimeField(), models.DecimalField(), models.BinaryField()]
    row = [date(2026, 3, 2), time(6, 30), Decimal("1.50"), memoryview(b"\x00\xff")]
    assert RowForm(fields).plain(row) == ["2026-03-02", "06:30:00", "1.50", "AP8="]
