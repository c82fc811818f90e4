"""Charts of what was learned, one module a chart; marks carry style names, the page gives them their ink."""

from accuracy.charts.biases import ConditionBias, biases
from accuracy.charts.calibration import calibration
from accuracy.charts.density import identity_density
from accuracy.charts.differences import Level, SessionMark, differences
from accuracy.charts.lock_on import LockOn, lock_on
from accuracy.charts.overlay import overlay
from accuracy.charts.paired import SessionDifference, paired_differences
from accuracy.charts.ratios import Band, PairPoint, pair_ratios
from accuracy.charts.session_loads import SessionLoad, session_loads
from trainlog.charts.lanes import FlaggedStretch

__all__ = [
    "Band",
    "ConditionBias",
    "FlaggedStretch",
    "Level",
    "LockOn",
    "PairPoint",
    "SessionDifference",
    "SessionLoad",
    "SessionMark",
    "biases",
    "calibration",
    "differences",
    "identity_density",
    "lock_on",
    "overlay",
    "pair_ratios",
    "paired_differences",
    "session_loads",
]
