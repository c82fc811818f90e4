"""The log's tables."""

from trainlog.models.activity import Activity, Family
from trainlog.models.api_token import ApiToken
from trainlog.models.athlete import Athlete, Physiology
from trainlog.models.care import Care
from trainlog.models.check_in import CheckIn
from trainlog.models.claimed_recovery import ClaimedRecovery
from trainlog.models.declined_offer import DeclinedOffer
from trainlog.models.deletion import Deletion
from trainlog.models.intensity_estimate import IntensityEstimate
from trainlog.models.lift_set import LiftSet
from trainlog.models.load_estimate import Basis, Confidence, LoadEstimate
from trainlog.models.measure import Measure
from trainlog.models.plan import PlannedSession, WeekPlan
from trainlog.models.publication import Publication
from trainlog.models.recording import Recording
from trainlog.models.sensor import Firmware, Sensor
from trainlog.models.sign_in import SignIn
from trainlog.models.stay import Stay
from trainlog.models.sweep import SweepRun
from trainlog.models.tag import Tag
from trainlog.models.text_layout import TextLayout
from trainlog.models.trend_week import TrendWeek
from trainlog.models.unknown_day import UnknownDay
from trainlog.models.upload_key import UploadKey
from trainlog.models.workout import Part, Workout

__all__ = [
    "Activity",
    "ApiToken",
    "Athlete",
    "Basis",
    "Care",
    "CheckIn",
    "ClaimedRecovery",
    "Confidence",
    "DeclinedOffer",
    "Deletion",
    "Family",
    "Firmware",
    "IntensityEstimate",
    "LiftSet",
    "LoadEstimate",
    "Measure",
    "Part",
    "Physiology",
    "PlannedSession",
    "Publication",
    "Recording",
    "Sensor",
    "SignIn",
    "Stay",
    "SweepRun",
    "Tag",
    "TextLayout",
    "TrendWeek",
    "UnknownDay",
    "UploadKey",
    "WeekPlan",
    "Workout",
]
