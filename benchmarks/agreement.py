"""Time and memory of aligning and of the agreement figures.

.venv/bin/python -m benchmarks.agreement
"""

from __future__ import annotations

import resource
import statistics
import time
from collections.abc import Callable

import numpy as np

from accuracy.core.agreement.agreement_charts import difference_plot, identity_density
from accuracy.core.agreement.pair_agreement import agree
from accuracy.core.agreement.pair_report import report_pair
from accuracy.core.agreement.pooled import pool
from accuracy.core.traces.align import estimate_shift, moved, shifted
from accuracy.core.traces.simulate_traces import simulate_pair
from trainlog.load.trimp import MEN
from trainlog.trace import FloatArray

HOUR = 3600


def pairs(count: int) -> list[tuple[FloatArray, FloatArray]]:
    """Invented hours at 1 Hz; a handful, each repeated with another error, since only the size matters."""
    rng = np.random.default_rng(0)
    made = [simulate_pair(np.random.default_rng(seed), seconds=HOUR, work="intervals") for seed in range(5)]
    return [
        (pair.reference, pair.tested + rng.normal(0, 3))
        for pair in (made[at % len(made)] for at in range(count))
    ]


def median_ms(action: Callable[[], object], times: int = 21) -> float:
    """Median time of an action in milliseconds, after one to warm up."""
    action()
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        action()
        spent.append(time.perf_counter() - begin)
    return 1000 * statistics.median(spent)


def main() -> None:
    """Print the figures."""
    reference, tested = pairs(1)[0]
    late = shifted(tested, 12.5)

    def align_and_agree() -> None:
        agree(reference, moved(late, estimate_shift(reference, late)))

    def align_and_report() -> None:
        aligned = moved(late, estimate_shift(reference, late))
        report_pair(reference, aligned, resting=50.0, maximum=190.0, weighting=MEN)

    print(f"one hour: align {median_ms(lambda: estimate_shift(reference, late)):.1f} ms")
    print(f"one hour: all figures at 1 s {median_ms(lambda: agree(reference, tested)):.1f} ms")
    print(f"one hour: align and all figures at 1 s {median_ms(align_and_agree):.1f} ms")
    print(f"one hour: align and the whole report (1, 5, 30, 60 s) {median_ms(align_and_report):.1f} ms")
    many = pairs(500)
    for count in (125, 250, 500):
        some = many[:count]

        def pooled(some: list[tuple[FloatArray, FloatArray]] = some) -> None:
            pool(some)
            identity_density(some)
            difference_plot(some)

        spent = median_ms(pooled, times=3)
        print(f"{count} hours pooled: {spent:.0f} ms, {spent / count:.2f} ms an hour of data")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory {peak:.0f} MB, of which the 500 pairs {500 * HOUR * 2 * 8 / 2**20:.0f} MB")


if __name__ == "__main__":
    main()
