"""Reports whose held-out predictions cost nothing: fits have tests of their own."""

import math

import pytest

from accuracy.core.evaluation.folds import HeldOut
from accuracy.report import collect


@pytest.fixture(autouse=True)
def quick_predictions(request, monkeypatch):
    """Every pair of several foretold to within 2%, unless a test is about the fits themselves."""
    if "real_predictions" in request.fixturenames:
        return

    def predict(pairs, *, seed):
        intervals = {0.5: (0.97, 0.99), 0.8: (0.95, 1.01), 0.95: (0.9, 1.06)}
        foretold = [HeldOut(pair, math.exp(-pair.log_ratio), 0.98, intervals, 0.8) for pair in pairs]
        return foretold if len({pair.workout for pair in pairs}) > 1 else []

    monkeypatch.setattr(collect, "predict_held_out", predict)


@pytest.fixture
def real_predictions():
    """Asked for by a test that wants what fits say."""
