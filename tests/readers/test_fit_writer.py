"""Our own FIT writer against published values and two independent decoders."""

import fitdecode
import fitfast
import numpy as np

from fixtures import fit_writer
from tests.trace_builders import START, segment, with_rr, workout

DEVICE = fit_writer.Device(product=7, serial=1234)


def test_the_checksum_has_the_published_check_value_of_crc_16_arc():
    """CRC-16/ARC, catalogue of parametrised CRC algorithms: check("123456789") = 0xBB3D."""
    assert fit_writer.crc(b"123456789") == 0xBB3D


def test_the_checksum_of_the_example_header_is_as_computed_elsewhere():
    """Header 0e 10 54 08 00 00 00 00 2e 46 49 54 has CRC 0xD146 (computed with an independent library)."""
    header = bytes.fromhex("0e 10 54 08 00 00 00 00 2e 46 49 54")
    assert fit_writer.crc(header) == 0xD146
    assert fit_writer.crc(header + bytes.fromhex("46 d1")) == 0


def test_the_epoch_is_the_last_day_of_1989():
    """FIT protocol: seconds since 1989-12-31T00:00:00Z, which is Unix time 631065600."""
    assert np.datetime64("1989-12-31T00:00:00").astype("datetime64[s]").astype(int) == fit_writer.EPOCH


def test_the_whole_file_sums_to_zero():
    assert fit_writer.crc(fit_writer.write(workout(20), DEVICE)) == 0


def test_the_same_workout_is_written_byte_for_byte_the_same():
    first, second = (fit_writer.write(with_rr(workout(60)), DEVICE) for _ in range(2))
    assert first == second


def test_the_fast_decoder_reads_every_sample():
    trace = workout(90, gap=slice(10, 20))
    columns = fitfast.records(fit_writer.write(trace, DEVICE))
    np.testing.assert_array_equal(columns["timestamp"], START.timestamp() + np.arange(90))
    np.testing.assert_array_equal(columns["heart_rate"], trace.heart_rate)
    for name, values in trace.others.items():
        np.testing.assert_allclose(columns[name], values)


def test_the_salvage_decoder_accepts_the_checksums_and_names_the_sport():
    trace = workout(90)
    file = fit_writer.write(trace, DEVICE, [segment(trace, "strength_training")])
    with fitdecode.FitReader(file, check_crc=fitdecode.CrcCheck.RAISE) as frames:
        messages = [frame for frame in frames if isinstance(frame, fitdecode.FitDataMessage)]
    session = next(message for message in messages if message.name == "session")
    assert (session.get_value("sport"), session.get_value("sub_sport")) == ("training", "strength_training")
    assert session.get_value("total_elapsed_time") == 90.0


def test_rr_intervals_are_written_in_order():
    file = fit_writer.write(with_rr(workout(30), interval_ms=750), DEVICE)
    intervals = [value for message in fitfast.parse(file)["hrv"] for value in message["time"] if value]
    assert set(intervals) == {0.75}
    assert len(intervals) == 38
