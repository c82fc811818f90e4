"""A trace as bytes, and back."""

from contextlib import suppress
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tests.trace_builders import START, with_rr, workout
from trainlog import trace_blob
from trainlog.trace import CHANNELS, Trace

RANGES = {
    "heart_rate": (25, 250),
    "cadence": (0, 400),
    "speed": (0, 150),
    "power": (0, 5000),
    "altitude": (-1000, 20000),
    "latitude": (-90, 90),
    "longitude": (-180, 180),
}


def signal(name, seconds):
    return arrays(
        float, seconds, elements=st.floats(*RANGES[name]) | st.just(float("nan")), fill=st.nothing()
    )


@st.composite
def traces(draw):
    seconds = draw(st.integers(0, 80))
    names = draw(st.sets(st.sampled_from(CHANNELS[1:])))
    beats = draw(st.integers(0, 20))
    return Trace(
        start=START + timedelta(seconds=draw(st.integers(-(10**8), 10**8))),
        heart_rate=draw(signal("heart_rate", seconds)),
        others={name: draw(signal(name, seconds)) for name in sorted(names)},
        rr_seconds=np.sort(draw(arrays(float, beats, elements=st.floats(0, 172800)))),
        rr_ms=draw(arrays(float, beats, elements=st.floats(1, 60000))),
    )


def assert_equal_to_the_step(found, trace):
    def close(name, a, b):
        np.testing.assert_allclose(a, b, rtol=0, atol=trace_blob.STEPS[name] * 0.5001, err_msg=name)

    assert found.start == trace.start
    assert set(found.others) == set(trace.others)
    close("heart_rate", found.heart_rate, trace.heart_rate)
    for name in trace.others:
        close(name, found.others[name], trace.others[name])
    close("rr_seconds", found.rr_seconds, trace.rr_seconds)
    close("rr_ms", found.rr_ms, trace.rr_ms)


@settings(deadline=None, max_examples=80, derandomize=True)
@given(traces())
def test_every_value_comes_back_to_the_step_of_its_channel(trace):
    assert_equal_to_the_step(trace_blob.unpack(trace_blob.pack(trace)), trace)


@settings(deadline=None, max_examples=40, derandomize=True)
@given(traces())
def test_packing_what_was_unpacked_changes_nothing_more(trace):
    blob = trace_blob.pack(trace)
    assert trace_blob.pack(trace_blob.unpack(blob)) == blob


def test_whole_bpm_come_back_exactly():
    trace = workout(gap=slice(50, 120))
    np.testing.assert_array_equal(trace_blob.unpack(trace_blob.pack(trace)).heart_rate, trace.heart_rate)


def test_heart_rate_alone_is_the_heart_rate_of_the_whole():
    blob = trace_blob.pack(with_rr(workout(gap=slice(0, 30))))
    np.testing.assert_array_equal(trace_blob.unpack_heart_rate(blob), trace_blob.unpack(blob).heart_rate)


def test_heart_rate_alone_does_not_need_the_bytes_of_other_channels():
    whole = workout()
    alone = trace_blob.pack(Trace(whole.start, whole.heart_rate))
    cut = trace_blob.pack(whole)[: len(alone)]
    np.testing.assert_array_equal(trace_blob.unpack_heart_rate(cut), whole.heart_rate)


def test_an_hour_of_heart_rate_takes_less_than_two_kilobytes():
    trace = workout(3600)
    assert len(trace_blob.pack(Trace(trace.start, trace.heart_rate))) < 2000


def test_an_unknown_version_is_refused_by_its_number():
    blob = bytearray(trace_blob.pack(workout(10)))
    blob[4] = 9
    with pytest.raises(ValueError, match="version 9"):
        trace_blob.unpack(bytes(blob))
    with pytest.raises(ValueError, match="version 9"):
        trace_blob.unpack_heart_rate(bytes(blob))


@pytest.mark.parametrize("blob", [b"", b"TRCE", b"other bytes altogether"])
def test_bytes_that_are_no_packed_trace_are_refused(blob):
    with pytest.raises(ValueError, match="packed trace"):
        trace_blob.unpack(blob)


def test_an_infinite_value_is_refused():
    with pytest.raises(ValueError, match="too large"):
        trace_blob.pack(Trace(START, np.array([100.0, np.inf])))


@settings(deadline=None, max_examples=100, derandomize=True)
@given(st.data())
def test_a_damaged_blob_is_refused_or_unpacked_but_never_anything_else(data):
    blob = bytearray(trace_blob.pack(with_rr(workout(60))))
    for _ in range(data.draw(st.integers(1, 4))):
        blob[data.draw(st.integers(0, len(blob) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, len(blob)))
    with suppress(ValueError):
        trace_blob.unpack(bytes(blob[:cut]))
