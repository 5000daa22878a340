"""The lists to look through: what the book brings along, and their order. From common practice, never a diagnosis."""

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet

from builds.models import CausePrompt, Symptom
from builds.tracking import as_one_edit, history_of

DEFAULT_SYMPTOMS = Path(settings.BASE_DIR) / "fixtures" / "default_symptoms.json"


def add_defaults() -> None:
    """Add the lists that this book never had. What the shop renamed, changed or put out of use stays as it set it."""
    lists = json.loads(DEFAULT_SYMPTOMS.read_text(encoding="utf-8"))
    with transaction.atomic():
        known = dict(history_of(Symptom).model.objects.order_by("-history_id").values_list("name", "id"))
        last = max(Symptom.objects.values_list("order", flat=True), default=0)
        new = [each for each in lists if each["name"] not in known]
        made = Symptom.objects.bulk_create(
            Symptom(name=each["name"], order=last + place) for place, each in enumerate(new, start=1)
        )
        keys = known | {symptom.name: symptom.pk for symptom in made}
        there = set(Symptom.objects.values_list("pk", flat=True))
        had = set(history_of(CausePrompt).model.objects.values_list("symptom_id", "text").distinct())
        ends: dict[int, int] = {}
        for key, order in CausePrompt.objects.values_list("symptom", "order"):
            ends[key] = max(order, ends.get(key, 0))
        CausePrompt.objects.bulk_create(
            CausePrompt(
                symptom_id=keys[each["name"]], text=text, order=ends.get(keys[each["name"]], 0) + place
            )
            for each in lists
            if keys[each["name"]] in there
            for place, text in enumerate(each["prompts"], start=1)
            if (keys[each["name"]], text) not in had
        )


def put_at(rows: QuerySet[Any], pk: int, place: int) -> None:
    """Give one of these a place in their order, counted from one; the others keep theirs to one another."""
    with as_one_edit():
        found = list(rows.select_for_update())
        row = next(each for each in found if each.pk == pk)
        others = [each for each in found if each.pk != pk]
        at = min(max(place, 1), len(found)) - 1
        for order, each in enumerate([*others[:at], row, *others[at:]], start=1):
            if each.order != order:
                each.order = order
                each.save(update_fields=["order"])


def move_symptom(symptom: Symptom, place: int) -> None:
    """Put a list at a place among the lists; to the same place twice is once."""
    put_at(Symptom.objects.order_by("order", "pk"), symptom.pk, place)


def move_prompt(prompt: CausePrompt, place: int) -> None:
    """Put a prompt at a place in its list."""
    rows = CausePrompt.objects.filter(symptom=prompt.symptom_id).order_by("order", "pk")
    put_at(rows, prompt.pk, place)
