"""Opening a log, and changing what it knows about the athlete."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.text import slugify

from trainlog.models import Activity, Athlete, Family, Part, Physiology
from trainlog.models.time_zone import check_time_zone
from trainlog.services.local_days import move_to_local_days
from trainlog.services.log_changed import log_changed

FIRST_ACTIVITIES = (
    ("run", "run", Family.STEADY),
    ("ride", "ride", Family.STEADY),
    ("row", "row", Family.STEADY),
    ("walk", "walk", Family.STEADY),
    ("swim", "swim", Family.STEADY),
    ("ski", "ski", Family.STEADY),
    ("interval-run", "interval run", Family.INTERVALS),
    ("interval-ride", "interval ride", Family.INTERVALS),
    ("lifting", "lifting", Family.RESISTANCE),
    ("mixed-intervals", "mixed intervals", Family.MIXED),
    ("other", "other", Family.OTHER),
)
"""Slug, name and family of the activities that a new log starts with."""

OTHER = "other"


def log_of(user: User) -> Athlete:
    """Log of a user, opened at the first call."""
    existing = Athlete.objects.select_related("user").filter(user=user).first()
    return existing or open_log(user)


def open_log(user: User, *, time_zone: str = "UTC", seed: int | None = None) -> Athlete:
    """Open a log with the first activities in it.

    Parameters
    ----------
    user : User
        Who signs in to it.
    time_zone : str
        IANA name.
    seed : int, optional
        Fixed seed of the shared draws, for a log that must come out the same anywhere.
    """
    with transaction.atomic():
        athlete, made = Athlete.objects.get_or_create(
            user=user, defaults={"time_zone": time_zone} | ({"seed": seed} if seed is not None else {})
        )
        if made:
            Activity.objects.bulk_create(
                Activity(owner=athlete, slug=slug, name=name, family=family)
                for slug, name, family in FIRST_ACTIVITIES
            )
    return athlete


def user_named(name: str) -> User | None:
    """User with a name that can be signed in with; a demo's has none."""
    return User.objects.filter(username=name, athlete__demo_for=None).first()


def add_person(name: str, password: str, *, time_zone: str = "UTC") -> Athlete:
    """Make a sign-in with an empty log.

    Parameters
    ----------
    name : str
        To sign in with.
    password : str
        Held against the rules for passwords.
    time_zone : str
        IANA name of the zone at home.

    Raises
    ------
    ValidationError
        If the name is taken or cannot be, the password is weak, or there is no such zone.
    """
    check_time_zone(time_zone)
    user = User(username=name)
    validate_password(password, user)
    user.set_password(password)
    user.full_clean()
    with transaction.atomic():
        user.save()
        return open_log(user, time_zone=time_zone)


def set_physiology(athlete: Athlete, physiology: Physiology) -> Physiology:
    """Keep a dated physiology in place of another of its day; loads are estimated anew.

    Raises
    ------
    ValidationError
        If its figures cannot be right.
    """
    physiology.owner = athlete
    physiology.full_clean(exclude=["owner"], validate_unique=False, validate_constraints=False)
    with transaction.atomic():
        Physiology.objects.of(athlete).filter(from_day=physiology.from_day).exclude(pk=physiology.pk).delete()
        physiology.save()
        log_changed(athlete, Part.objects.of(athlete))
    return physiology


def save_settings(athlete: Athlete) -> None:
    """Keep settings; workouts move to the local day of the zone, and advice is given anew."""
    with transaction.atomic():
        athlete.save(update_fields=["time_zone", "keep_positions", "near_per_cent"])
        move_to_local_days(athlete)


def add_activity(athlete: Athlete, name: str, family: str) -> Activity:
    """Add a kind of work of the athlete's own.

    Raises
    ------
    ValidationError
        If the name is empty or taken, or the family is none.
    """
    activity = Activity(owner=athlete, name=name.strip(), slug=slugify(name), family=family)
    activity.full_clean(exclude=["owner"], validate_constraints=False)
    if Activity.objects.of(athlete).filter(slug=activity.slug).exists():
        raise ValidationError({"name": f"There is an activity “{activity.name}” already."})
    activity.save()
    return activity
