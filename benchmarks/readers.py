"""Time to read an hour of FIT at 1 Hz, against the bare decoder's time for its samples, in one run.

    .venv/bin/python -m benchmarks.readers          # 200 rounds
    .venv/bin/python -m benchmarks.readers 1000

The two take turns, so that a busy machine slows both; what counts is the median of the rounds' ratios.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial

import fitfast
import numpy as np

from fixtures import fit_writer
from trainlog.readers import Segment, read
from trainlog.trace import Trace

START = datetime(2026, 3, 1, 6, 30, tzinfo=UTC)
NOW = START + timedelta(days=1)
SECONDS = 3600
AIM = 1.2


def hour(*, with_gaps: bool = False, with_rr: bool = False, start: datetime = START) -> bytes:
    """FIT file of an invented hour with five channels, a session and a connected heart-rate sensor."""
    time_s = np.arange(SECONDS)
    heart_rate = np.rint(140 + 25 * np.sin(time_s / 300) + 5 * np.sin(time_s / 17))
    if with_gaps:
        heart_rate[np.random.default_rng(1).integers(0, SECONDS, 200)] = np.nan
        heart_rate[1200:1300] = np.nan
    ends = np.arange(420, 1000 * (SECONDS - 1), 420) / 1000 if with_rr else np.empty(0)
    trace = Trace(
        start=start,
        heart_rate=heart_rate,
        others={
            "cadence": np.rint(85 + 5 * np.sin(time_s / 30)),
            "speed": np.round(3 + np.sin(time_s / 60), 3),
            "power": np.rint(200 + 50 * np.sin(time_s / 45)),
            "altitude": np.round(40 + np.sin(time_s / 200), 1),
        },
        rr_seconds=ends,
        rr_ms=np.full(len(ends), 420.0),
    )
    device = fit_writer.Device(heart_rate_sensor=55)
    return fit_writer.write(trace, device, [Segment(trace.start, trace.end, "running")])


def milliseconds(work: Callable[[], object]) -> float:
    """Time of one call."""
    begin = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - begin)


def main(rounds: int) -> None:
    """Print medians for each kind of hour."""
    print(f"{rounds} rounds, aim {AIM}")
    print(f"{'an hour of FIT':34}{'bare ms':>9}{'read ms':>9}{'ratio':>7}{'10-90%':>13}")
    hours = {
        "five channels": hour(),
        "five channels, with gaps": hour(with_gaps=True),
        "five channels and RR intervals": hour(with_rr=True),
        "wrong checksum (salvaged)": fit_writer.with_wrong_checksum(hour()),
    }
    sound = hours["five channels"]
    for name, data in hours.items():
        bare_data = sound if name.startswith("wrong") else data
        bare, ours = np.array(
            [
                (
                    milliseconds(partial(fitfast.records, bare_data)),
                    milliseconds(partial(read, data, now=NOW)),
                )
                for _ in range(rounds)
            ]
        ).T
        ratios = ours / bare
        low, high = np.quantile(ratios, [0.1, 0.9])
        print(
            f"{name:34}{np.median(bare):9.2f}{np.median(ours):9.2f}{np.median(ratios):7.2f}"
            f"{f'{low:.2f}-{high:.2f}':>13}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
