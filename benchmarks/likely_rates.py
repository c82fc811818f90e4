"""How well mean, peak and minutes above 70% of reserve of wrist-only sessions are predicted.

    .venv/bin/python -m benchmarks.likely_rates         # 40 simulated athletes
    .venv/bin/python -m benchmarks.likely_rates 10

Each has 8 pairs of every activity, then sessions with the wrist alone; once with sessions much alike, once
with sessions that differ widely. Errors and widths are in bpm or minutes, the rest in per cent. The method
was made on seeds below 40, so the athletes here are others.
"""

from __future__ import annotations

import sys

from accuracy.core.evaluation.simulate_athletes import SENSOR_TROUBLE
from accuracy.core.evaluation.simulated_log import Setting
from accuracy.core.evaluation.simulated_rates import evaluate_rates, table

PAIRS = (8,)

FIRST_SEED = 100


def main(athletes: int) -> None:
    """Print a table for each kind of athlete, over all activities and by family."""
    for broad in (False, True):
        setting = Setting(broad, SENSOR_TROUBLE, PAIRS)
        rows = [row for one in range(athletes) for row in evaluate_rates(FIRST_SEED + one, setting)]
        print(f"\nSessions {'that differ widely' if broad else 'much alike'}, {athletes} athletes")
        print(table(rows).round(1).to_string())
        print(table(rows, ["family"]).round(1).to_string())


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
