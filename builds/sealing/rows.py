"""What of a database row goes into a digest: every column, each in one way of writing.

The columns are named here, in editions. A column that is added to a table later makes a new edition, and what was sealed
by an older one is still rehashed by that one; a test says when an edition is due.
"""

import json
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import models

from builds.sealing.canonical import canonical, digest, time_text

READING_COLUMNS = {
    1: (
        "id", "client_id", "build_id", "position", "characteristic", "text", "unit", "value", "instrument_id",
        "photo_id", "how", "taken_by_id", "taken_at", "saved_at", "device", "corrects_id", "reason", "note", "context",
    ),
}  # fmt: skip
PHOTO_COLUMNS = {
    1: (
        "id", "client_id", "build_id", "name", "media_type", "size", "sha256", "sent_sha256", "width", "height", "path",
        "taken_at", "taken_by_id", "saved_at", "device", "removed",
    ),
}  # fmt: skip
READINGS_NOW, PHOTOS_NOW = max(READING_COLUMNS), max(PHOTO_COLUMNS)


def plain_row(record: models.Model, columns: tuple[str, ...]) -> dict[str, Any]:
    """The named columns of a record as plain data."""
    fields = {field.attname: field for field in record._meta.concrete_fields}
    return {column: plain_value(getattr(record, column), fields[column]) for column in columns}


def plain_value(value: Any, field: "models.Field[Any, Any]") -> Any:
    """One column: decimals with all the places that the column keeps, times in UTC, JSON as text with sorted keys."""
    if isinstance(field, models.JSONField):
        return json.dumps(value, sort_keys=True, ensure_ascii=False)
    if isinstance(value, Decimal):
        assert isinstance(field, models.DecimalField)
        return f"{value:.{field.decimal_places}f}"
    if isinstance(value, datetime):
        return time_text(value)
    if isinstance(value, UUID):
        return str(value)
    return value


def row_digest(record: models.Model, columns: tuple[str, ...]) -> str:
    """SHA-256 of a record's columns."""
    return digest(canonical(plain_row(record, columns)))
