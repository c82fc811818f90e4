"""Rows as text and back, exact to the microsecond and the byte, with Django's own serialisers."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

import zstandard
from django.core import serializers
from django.core.exceptions import ValidationError
from django.core.serializers.base import DeserializationError, DeserializedObject
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

LARGEST_CONTENT = 2**30
"""Bytes of JSON that one deletion may hold; ten years of files are a fifth of it."""

UNREADABLE = (
    "What was kept of this deletion cannot be read any longer. Add its files again if you still have them."
)

PlainRow = dict[str, Any]


class _ExactEncoder(DjangoJSONEncoder):
    """Django's own encoder drops what is finer than a millisecond; a row put back is the same row."""

    def default(self, o: Any) -> Any:
        return o.isoformat() if isinstance(o, datetime) else super().default(o)


def plain(rows: Iterable[models.Model]) -> list[PlainRow]:
    """Columns of rows by name, with model and key; bytes as base64."""
    done: list[PlainRow] = json.loads(json.dumps(serializers.serialize("python", rows), cls=_ExactEncoder))
    return done


def pack(content: Any) -> bytes:
    """Compressed JSON of whatever a deletion keeps."""
    return zstandard.compress(json.dumps(content, separators=(",", ":")).encode())


def unpack(packed: bytes) -> Any:
    """What ``pack`` was given.

    Raises
    ------
    ValidationError
        If it is damaged.
    """
    try:
        return json.loads(zstandard.ZstdDecompressor().decompress(packed, max_output_size=LARGEST_CONTENT))
    except (zstandard.ZstdError, ValueError) as damage:
        raise ValidationError(UNREADABLE) from damage


def rows_from(plain_rows: Sequence[PlainRow]) -> list[DeserializedObject]:
    """Rows, not yet saved; columns that a newer version no longer has are left out.

    Raises
    ------
    ValidationError
        If they cannot be read.
    """
    try:
        return list(serializers.deserialize("python", plain_rows, ignorenonexistent=True))
    except DeserializationError as damage:
        raise ValidationError(UNREADABLE) from damage
