"""Words for the numbers of a FIT file: sports, kinds of file, kinds of sensor."""

from __future__ import annotations

from math import isfinite

from fitdecode.profile import FIELD_TYPES

ACTIVITY_FILE = 4

_FILES = {
    1: "a description of a device",
    2: "device settings",
    3: "sport settings",
    5: "a workout plan",
    6: "a course",
    7: "a schedule",
    9: "weight readings",
    10: "totals",
    11: "goals",
    14: "blood-pressure readings",
    15: "all-day monitoring",
    20: "a summary of activities",
    28: "all-day monitoring",
    32: "all-day monitoring",
    34: "a route segment",
    35: "a list of route segments",
}
_CATCH_ALL_SPORTS = ("", "generic", "all", "training", "fitness_equipment")
_NO_WORD = ("", "generic", "all", "exercise")

_ANT, _ANT_PLUS, _BLUETOOTH, _BLUETOOTH_LOW_ENERGY, _LOCAL = 0, 1, 2, 3, 5
_RADIO_HEART_RATE, _BLUETOOTH_HEART_RATE = 120, 1


def kind_of_file(number: float) -> str:
    """Say in plain words what a file of this type holds.

    Parameters
    ----------
    number : float
        ``type`` of the ``file_id`` message.

    Returns
    -------
    str
        A noun phrase.
    """
    return _FILES.get(int(number), "something else") if isfinite(number) else "something else"


def sport_word(sport: float, sub_sport: float) -> str:
    """Sport of a session in one lower-case word.

    The narrower word is taken where the wider one is a catch-all ("training", "fitness_equipment"):
    strength training is then "strength_training", while a run on a treadmill stays "running".

    Parameters
    ----------
    sport, sub_sport : float
        Numbers of the ``session`` message, NaN where it has none.

    Returns
    -------
    str
        Word of the format's own list; empty when the file does not say.
    """
    wide, narrow = _word("sport", sport), _word("sub_sport", sub_sport)
    if wide in _CATCH_ALL_SPORTS and narrow not in _NO_WORD:
        return narrow
    return "" if wide in ("generic", "all") else wide


def is_external_heart_rate_sensor(source_type: float, device_type: float) -> bool:
    """Whether a ``device_info`` message describes a heart-rate sensor connected by radio.

    Parameters
    ----------
    source_type, device_type : float
        Numbers of the message, NaN where it has none; older files leave out the source.

    Returns
    -------
    bool
    """
    if source_type in (_BLUETOOTH, _BLUETOOTH_LOW_ENERGY):
        return device_type == _BLUETOOTH_HEART_RATE
    return source_type != _LOCAL and device_type == _RADIO_HEART_RATE


def _word(kind: str, number: float) -> str:
    return str(FIELD_TYPES[kind].enum.get(int(number), "")) if isfinite(number) else ""
