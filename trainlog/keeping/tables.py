"""Which tables are kept, which an installation fills by itself, and whether one has been begun."""

from __future__ import annotations

from collections import defaultdict

from django.apps import apps as current_apps
from django.apps.registry import Apps
from django.db import connections

from trainlog.keeping.rows import Model
from trainlog.models import Deletion, Recording

LEFT_OUT = {"sessions.session", "trainlog.signin"}
"""Whoever is signed in signs in again."""

_FILLED_BY_ITSELF = {"contenttypes.contenttype", "auth.permission", "trainlog.sweeprun"}


def kept(apps: Apps | None = None) -> list[Model]:
    """Every table whose rows are kept, those of many-to-many fields included."""
    return [
        model
        for model in (apps or current_apps).get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy and model._meta.label_lower not in LEFT_OUT
    ]


def is_filled_by_itself(label: str) -> bool:
    """Whether a new installation has rows of this table before anyone has done anything with it.

    Those are replaced by a restore: what the program notes of itself, its sweeps and its sign-ins.
    """
    return label in _FILLED_BY_ITSELF or label.startswith("axes.")


def begun_tables(alias: str) -> list[str]:
    """Tables with rows that somebody has put there; none in an empty installation."""
    there = set(connections[alias].introspection.table_names())
    return [
        model._meta.label_lower
        for model in kept()
        if not is_filled_by_itself(model._meta.label_lower)
        and model._meta.db_table in there
        and model._base_manager.using(alias).values("pk").exists()
    ]


def named_originals(alias: str) -> dict[int, set[str]]:
    """Hashes of the originals that rows name, by athlete: of recordings, and of what can be put back."""
    named: dict[int, set[str]] = defaultdict(set)
    for owner, sha256 in Recording.objects.using(alias).values_list("owner_id", "sha256").iterator():
        named[owner].add(sha256)
    for owner, hashes in Deletion.objects.using(alias).values_list("owner_id", "hashes").iterator():
        named[owner].update(hashes)
    return dict(named)
