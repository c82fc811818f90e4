"""Hours of recovery by intensity.

Stanley J, Peake JM, Buchheit M (2013), Sports Med 43(12):1259-1277, as a secondary source quotes it: complete
cardiac autonomic recovery takes up to 24 h after low intensity, 24-48 h after threshold work and at least 48
h after high intensity. Where in a range a session lies is our own rule.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainlog.load.draws import DRAWS
from trainlog.load.recovery import recovery_hours


@pytest.mark.parametrize(
    ("minutes", "least", "most"),
    [
        ((90.0, 0.0, 0.0), 0, 24),
        ((30.0, 30.0, 0.0), 24, 48),
        ((30.0, 0.0, 20.0), 48, np.inf),
        ((30.0, 0.0, 10.0), 48, np.inf),
        ((30.0, 10.0, 10.0), 48, np.inf),
    ],
    ids=[
        "low intensity",
        "threshold",
        "high intensity",
        "short high intensity",
        "high intensity and threshold",
    ],
)
@settings(derandomize=True, deadline=None, max_examples=20)
@given(load=st.floats(0, 1000), seed=st.integers(0, 10_000))
def test_every_draw_lies_in_the_published_range_of_its_intensity(minutes, least, most, load, seed):
    hours = recovery_hours(np.array(minutes), np.full(DRAWS, load), np.full(DRAWS, 60.0), seed)
    assert np.all((hours >= least) & (hours <= most))
