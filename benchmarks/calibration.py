"""Whether fits of the error profiles are calibrated on athletes drawn from their own prior.

    .venv/bin/python -m benchmarks.calibration            # 1000 simulated athletes a form
    .venv/bin/python -m benchmarks.calibration 200

Simulation-based calibration after Talts et al. 2018: see
``accuracy.core.evaluation.simulation_based_calibration``. A p value is of a chi-square test that the ranks
are uniform; the threshold is 0.05 over the number of tests. Coverage is that of central 80% intervals. A
histogram high at both ends tells of draws too narrow.
"""

from __future__ import annotations

import sys

from benchmarks import one_thread  # noqa: F401  # before numpy is loaded

# isort: split
from accuracy.core.evaluation.simulation_based_calibration import Calibration, calibrate
from accuracy.core.learning.priors import WRIST
from accuracy.core.learning.wrist_fit import CANDIDATES

FORMS = ("constant", "few features", "all features")

BINS = 16

FAMILY_WISE = 0.05


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    rows: list[tuple[str, str, Calibration]] = []
    for form in CANDIDATES:
        if form.name in FORMS:
            found = calibrate(form, WRIST, simulations=count, seed=1)
            rows += [(form.name, name, one) for name, one in found.items()]
    threshold = FAMILY_WISE / len(rows)
    print(f"{count} simulated athletes a form; not uniform where p < {threshold:.4f}")
    print(f"{'form':15}{'ranked':20}{'p':>8}{'coverage':>10}  ranks in {BINS} bins")
    for form_name, name, one in rows:
        p_value = one.p_value(BINS)
        bars = " ".join(f"{number:>3}" for number in one.histogram(BINS))
        mark = " *" if p_value < threshold else ""
        print(f"{form_name:15}{name:20}{p_value:8.4f}{100 * one.coverage():9.1f}%  {bars}{mark}")


if __name__ == "__main__":
    main()
