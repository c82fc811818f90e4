"""The log's tables."""

from trainlog.models.activity import Activity, Family
from trainlog.models.athlete import Athlete, Physiology
from trainlog.models.check_in import CheckIn
from trainlog.models.load_estimate import Basis, Confidence, LoadEstimate
from trainlog.models.recording import Recording
from trainlog.models.sensor import Firmware, Sensor
from trainlog.models.sweep import SweepRun
from trainlog.models.text_layout import TextLayout
from trainlog.models.workout import Part, Workout

__all__ = [
    "Activity",
    "Athlete",
    "Basis",
    "CheckIn",
    "Confidence",
    "Family",
    "Firmware",
    "LoadEstimate",
    "Part",
    "Physiology",
    "Recording",
    "Sensor",
    "SweepRun",
    "TextLayout",
    "Workout",
]
