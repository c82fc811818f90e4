"""What is assumed about an instrument before any pair of the athlete's own.

All figures are about the log ratio of the reference's load to the instrument's. An instrument is
anything from which a load can be guessed: a wrist sensor, the session-RPE, or time alone. Recovery hours
claimed by a device are learned in the same way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

FAMILIES = ("steady", "intervals", "resistance", "mixed", "other")


@dataclass(frozen=True)
class Prior:
    """Prior of one kind of instrument.

    Attributes
    ----------
    centre : mapping of family to float
        Expected log ratio.
    family, instrument, instrument_family, instrument_activity, firmware : float
        Standard deviations of the effects: of the family over all instruments of the kind, of the
        instrument over all families, of its departures in a family and in an activity, and of a
        firmware version in a family.
    residual : mapping of family to float
        Scale of the Student-t spread between sessions.
    scale_doubt : float
        Standard deviation of the log factor on each of the five scales of effects: how far they may
        be learned away.
    """

    centre: Mapping[str, float]
    family: float
    instrument: float
    instrument_family: float
    instrument_activity: float
    firmware: float
    residual: Mapping[str, float]
    scale_doubt: float = 0.5


# Centres: a 2020 meta-analysis (J Sports Sci 38:2021-2034) found wrist sensors low by 0.51 bpm on the
# treadmill, 4.55 cycling and 7.26 in resistance work. Near 60% of a reserve of 130 bpm one bpm is about
# 2.7% of Banister's load, near 45% about 3.2% (our arithmetic). Mixed-modal intervals are taken as
# resistance work is, intervals as halfway (common practice, no source). All standard deviations and
# residual scales: common practice, no source.
WRIST = Prior(
    centre={"steady": 0.05, "intervals": 0.10, "resistance": 0.20, "mixed": 0.20, "other": 0.10},
    family=0.08,
    instrument=0.05,
    instrument_family=0.10,
    instrument_activity=0.10,
    firmware=0.12,
    residual={"steady": 0.06, "intervals": 0.09, "resistance": 0.14, "mixed": 0.14, "other": 0.12},
)

# An hour at 70% of reserve is a load of 103 (men) and rated about 5, so 300: log ratio -1.07 (our
# arithmetic). Spreads: common practice, no source.
SESSION_RPE = Prior(
    centre={"steady": -1.0, "intervals": -1.1, "resistance": -1.5, "mixed": -1.2, "other": -1.2},
    family=0.25,
    instrument=0.40,
    instrument_family=0.15,
    instrument_activity=0.15,
    firmware=0.01,
    residual={"steady": 0.22, "intervals": 0.20, "resistance": 0.30, "mixed": 0.25, "other": 0.30},
)

# Log of the recovery hours that a device claims when a strap feeds it over those it claims from the wrist
# alone. No published figure is known: centred on no difference. Spreads: common practice, no source.
CLAIMED_HOURS = Prior(
    centre=dict.fromkeys(FAMILIES, 0.0),
    family=0.15,
    instrument=0.30,
    instrument_family=0.15,
    instrument_activity=0.10,
    firmware=0.01,
    residual=dict.fromkeys(FAMILIES, 0.25),
)

# Load a minute: 1.2 at 60% of reserve, 1.7 at 70%, 0.8 at 50% (Banister's weighting for men, our
# arithmetic). Spreads: common practice, no source.
TIME_ALONE = Prior(
    centre={"steady": 0.2, "intervals": 0.4, "resistance": -0.5, "mixed": 0.2, "other": -0.2},
    family=0.25,
    instrument=0.25,
    instrument_family=0.15,
    instrument_activity=0.20,
    firmware=0.01,
    residual={"steady": 0.30, "intervals": 0.20, "resistance": 0.30, "mixed": 0.25, "other": 0.40},
)
