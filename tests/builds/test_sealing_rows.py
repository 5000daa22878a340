"""Every column of a reading and a photo goes into what is sealed; a new column makes a new edition."""

import pytest
from django.db import models

from builds.models import Photo, Reading
from builds.sealing.rows import PHOTO_COLUMNS, PHOTOS_NOW, READING_COLUMNS, READINGS_NOW


@pytest.mark.parametrize(
    ("model", "columns"), [(Reading, READING_COLUMNS[READINGS_NOW]), (Photo, PHOTO_COLUMNS[PHOTOS_NOW])]
)
def test_the_newest_edition_names_every_column(model: type[models.Model], columns: tuple[str, ...]) -> None:
    assert sorted(columns) == sorted(field.attname for field in model._meta.concrete_fields)


def test_the_first_edition_stays_as_it_was_sealed() -> None:
    # Regression only: what was sealed with these columns is rehashed with them for ever.
    assert len(READING_COLUMNS[1]) == 19
    assert len(PHOTO_COLUMNS[1]) == 16
