"""Charts of what was learned, one module a chart; marks carry style names, the page gives them their ink."""

from accuracy.charts.calibration import calibration
from accuracy.charts.density import identity_density
from accuracy.charts.differences import Level, SessionMark, differences
from accuracy.charts.likely import likely_trace
from accuracy.charts.overlay import FlaggedStretch, overlay
from accuracy.charts.ratios import Band, PairPoint, pair_ratios

__all__ = [
    "Band",
    "FlaggedStretch",
    "Level",
    "PairPoint",
    "SessionMark",
    "calibration",
    "differences",
    "identity_density",
    "likely_trace",
    "overlay",
    "pair_ratios",
]
