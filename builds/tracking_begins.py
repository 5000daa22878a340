"""Where a history begins: one row for each record that was there before its edits were kept. For migrations."""

from typing import Any

from django.utils import timezone

from builds.tracking import AT_ONCE, BEGUN


def begin(apps: Any, app_label: str) -> None:
    """Write down how each record of an app stands now, nobody's edit. A record that has a row already is let be."""
    for history in apps.get_app_config(app_label).get_models():
        if history.__name__.startswith("Historical"):
            _begin(apps.get_model(app_label, history.__name__.removeprefix("Historical")), history)


def _begin(model: Any, history: Any) -> None:
    kept = {field.attname for field in history._meta.fields}
    names = [field.attname for field in model._meta.fields if field.attname in kept]
    there = set(history.objects.values_list("id", flat=True))
    rows: list[Any] = []
    for values in model.objects.order_by("pk").values(*names).iterator(AT_ONCE):
        if values["id"] not in there:
            rows.append(
                history(**values, history_type="+", history_date=timezone.now(), history_change_reason=BEGUN)
            )
    history.objects.bulk_create(rows, batch_size=AT_ONCE)
