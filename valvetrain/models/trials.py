"""Trials of the What if screen that somebody kept by name."""

from decimal import Decimal
from typing import Any

from django.db import models
from django.urls import reverse

from builds.measures import for_field
from builds.models import Build, Person
from builds.tracking import History, Tracked


class Trial(Tracked):
    """What a trial changes, kept by name. Not a record: it may be dropped, and it is worked out afresh at every look.

    `changes` holds the fields that differ from today, each with its text as typed, its unit and its exact value; `stood`
    what the records said of each valve it is for, so that the page can say what has changed since.
    """

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="trials")
    name = models.CharField("name", max_length=80)
    note = models.TextField("note", blank=True)
    kept_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    kept_at = models.DateTimeField(auto_now_add=True)
    changes = models.JSONField("what it changes", default=dict)
    stood = models.JSONField("what the records said", default=dict, blank=True)

    history = History()

    class Meta:
        ordering = ["-pk"]
        constraints = [models.UniqueConstraint(fields=["build", "name"], name="trial_name_once_on_a_job")]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The trial, worked out against the records as they are now."""
        return reverse("trial", args=[self.build_id, self.pk])

    def may_be_dropped_by(self, person: Person) -> bool:
        """Whether a person may drop it: who kept it, or an owner of the book."""
        return person.is_owner or person.pk == self.kept_by_id

    @property
    def scope_words(self) -> str:
        """Which valves it is for."""
        at = str(self.changes.get("at", {}).get("text", ""))
        return {"": "all valves", "I": "intakes", "E": "exhausts"}.get(at, at)

    @property
    def change_words(self) -> str:
        """What it changes, as it was typed: net lift 0.740 in, seat cut deeper by 0.010 in."""
        told = [
            " ".join(filter(None, [kept.get("label", ""), kept.get("told", kept["text"])]))
            for name, kept in self.changes.items()
            if name != "at"
        ]
        return ", ".join(told)

    def typed_for(self, unit_of: dict[str, str]) -> dict[str, str]:
        """What stands in the fields for a reader whose units are these: as typed, or the same value in their unit."""
        return {name: _text(kept, unit_of.get(name, "")) for name, kept in self.changes.items()}


def _text(kept: dict[str, Any], unit: str) -> str:
    if "value" not in kept or not unit or kept.get("unit") == unit:
        return str(kept["text"])
    return for_field(Decimal(kept["value"]), unit)
