"""Making a record once however often it is asked for: the asking carries a token of its own."""

from collections.abc import Callable
from typing import TypeVar
from uuid import UUID

from django.db import IntegrityError, models, transaction

from builds.models import FormSent

_Record = TypeVar("_Record", bound=models.Model)


def made_once(model: type[_Record], token: UUID | None, make: Callable[[], _Record]) -> tuple[_Record, bool]:
    """Make a record in one transaction, or find the one that this token made before. Whether it is new comes second."""
    made = made_before(model, token)
    if made is not None:
        return made, False
    try:
        with transaction.atomic():
            record = make()
            if token is not None:
                FormSent.objects.create(token=token, made=model._meta.label, made_pk=record.pk)
    except IntegrityError:
        # The same, sent a second time, was a moment earlier.
        made = made_before(model, token)
        if made is None:
            raise
        return made, False
    return record, True


def made_before(model: type[_Record], token: UUID | None) -> _Record | None:
    """The record that this token made; None where it made none."""
    sent = FormSent.objects.filter(token=token, made=model._meta.label).first() if token is not None else None
    return model._default_manager.filter(pk=sent.made_pk).first() if sent is not None else None
