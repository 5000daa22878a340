"""Records that may be edited: every edit leaves a row in the record's history, whatever way it was written.

A model that inherits `Tracked` and has a `history` keeps, in a table of its own, each state it was ever in, with when
and by whom. That table only grows, like the readings. `save`, `delete`, `update`, `bulk_create` and `bulk_update` all
leave their rows, in the transaction of the write itself; what changes nothing leaves none. `builds.edits` reads it.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any, TypeVar

from django.apps import apps
from django.db import models, transaction
from simple_history.manager import HistoricalQuerySet
from simple_history.models import HistoricalRecords

from builds.appendonly import AppendOnly, AppendOnlyQuerySet

if TYPE_CHECKING:
    from builds.models import Person

_Record = TypeVar("_Record", bound=models.Model, covariant=True)
Model = type[models.Model]

# The reason in the rows that say how things stood when this book began to keep a history.
BEGUN = "as it was when the history began"
AT_ONCE = 500

_UNSAID: Any = object()
_writer: ContextVar["Person | None"] = ContextVar("writer", default=_UNSAID)
_waiting: ContextVar[dict[Model, set[Any]] | None] = ContextVar("waiting", default=None)


class KeptQuerySet(AppendOnlyQuerySet[_Record], HistoricalQuerySet):  # type: ignore[misc]
    """Rows of a history: to be read, as the library offers, and added to."""


class History(HistoricalRecords):  # type: ignore[misc]
    """The states that the records of one model were in. `leaves_out` names fields that are not for keeping."""

    def __init__(self, *, leaves_out: Iterable[str] = ()) -> None:
        super().__init__(
            excluded_fields=list(leaves_out),
            bases=[AppendOnly],
            history_id_field=models.BigAutoField(),
            historical_queryset=KeptQuerySet,
        )

    def _get_history_user_fields(self) -> dict[str, Any]:
        """Who wrote stays named: people are deactivated, never deleted."""
        fields: dict[str, Any] = super()._get_history_user_fields()
        fields["history_user"].remote_field.on_delete = models.PROTECT
        return fields

    def get_history_user(self, instance: models.Model) -> Any:
        """The person who is said to write, else the one whose request this is; nobody for guests and commands."""
        writer = _writer.get()
        return super().get_history_user(instance) if writer is _UNSAID else writer

    def post_save(self, instance: models.Model, created: bool, using: Any = None, **kwargs: Any) -> None:
        """Keep the new state. A fixture brings its own history, where it has one."""
        if kwargs.get("raw"):
            return
        if created:
            self.create_historical_record(instance, "+", using=using)
        elif _is_kept(type(instance), kwargs.get("update_fields")):
            _note(type(instance), [instance.pk])

    def post_delete(self, instance: models.Model, using: Any = None, **kwargs: Any) -> None:
        """Keep what was there: as the history has it last, since the record in hand may carry what was never saved."""
        last = newest(type(instance), [instance.pk]).get(instance.pk)
        self.create_historical_record(instance if last is None else last.instance, "-", using=using)


class TrackedQuerySet(models.QuerySet[_Record]):
    """Ways of writing many records at once, each with a row in the history."""

    def update(self, **values: Any) -> int:
        """Change these records; each that is another afterwards gets its row."""
        if not (is_tracked(self.model) and _is_kept(self.model, values)):
            return super().update(**values)
        with transaction.atomic(using=self.db):
            keys = list(self.order_by().values_list("pk", flat=True))
            changed = super().update(**values)
            _note(self.model, keys)
        return changed

    def bulk_create(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> list[Any]:
        """Add these records, and a row for each."""
        if not is_tracked(self.model):
            return super().bulk_create(objs, *args, **kwargs)
        if kwargs.get("ignore_conflicts") or kwargs.get("update_conflicts"):
            raise ValueError("What is tracked is not written over: the history could not say what was there.")
        with transaction.atomic(using=self.db):
            made = super().bulk_create(objs, *args, **kwargs)
            history_of(self.model).bulk_history_create(made)
        return made


class Tracked(models.Model):
    """Base of the records whose edits are kept. A model adds its own `history = History()`."""

    objects = TrackedQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write the record and its history together, or neither."""
        with transaction.atomic(savepoint=False):
            super().save(*args, **kwargs)


def is_tracked(model: Model) -> bool:
    """Whether edits of a model are kept. The models that a migration works with are none of these."""
    return hasattr(model._meta, "simple_history_manager_attribute")


def tracked_models() -> list[Model]:
    """Every model whose edits are kept."""
    return [model for model in apps.get_models() if is_tracked(model)]


def history_of(model: Model) -> Any:
    """The manager of a model's history; its `model` is the table."""
    return model.history  # type: ignore[attr-defined]


@contextmanager
def written_by(person: "Person | None") -> Iterator[None]:
    """Say who writes where no request says it, as in a demo shop; None for what the book does by itself."""
    token = _writer.set(person)
    try:
        yield
    finally:
        _writer.reset(token)


@contextmanager
def as_one_edit() -> Iterator[None]:
    """Keep only what several writes come to. The steps between are nobody's edit: two names that change places."""
    with transaction.atomic():
        if _waiting.get() is not None:
            yield
            return
        noted: dict[Model, set[Any]] = {}
        token = _waiting.set(noted)
        try:
            yield
        finally:
            _waiting.reset(token)
        for model, keys in noted.items():
            _note(model, sorted(keys))


def _is_kept(model: Model, names: Iterable[str] | None) -> bool:
    """Whether one of these fields is in the history; a save that names none may touch any."""
    if names is None:
        return True
    kept = {name for field in history_of(model).model.tracked_fields for name in (field.name, field.attname)}
    return not kept.isdisjoint(names)


def _note(model: Model, keys: Iterable[Any]) -> None:
    """Add a row for each of these records that is not as the history has it last: both as the database tells them."""
    waiting = _waiting.get()
    if waiting is not None:
        waiting.setdefault(model, set()).update(keys)
        return
    history = history_of(model)
    names = [field.attname for field in history.model.tracked_fields]
    listed = list(keys)
    for some in (listed[start : start + AT_ONCE] for start in range(0, len(listed), AT_ONCE)):
        last = newest(model, some)
        changed = [
            record
            for record in model._base_manager.filter(pk__in=some)
            if record.pk not in last
            or any(getattr(record, name) != getattr(last[record.pk], name) for name in names)
        ]
        history.bulk_history_create(changed, update=True)


def newest(model: Model, keys: Iterable[Any]) -> dict[Any, Any]:
    """The last row of each of these records, under its key."""
    rows, key = history_of(model).model.objects, model._meta.pk.attname
    mine = rows.filter(**{f"{key}__in": list(keys)}).order_by()
    last = mine.values(key).annotate(last=models.Max("history_id")).values("last")
    return {getattr(row, key): row for row in rows.filter(history_id__in=last)}
