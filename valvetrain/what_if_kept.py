"""A trial that is kept: what the records said when it was, and what of that has changed since."""

from collections import defaultdict
from decimal import Decimal

from builds.measures import show, unit_for
from builds.models import Build, Person
from valvetrain.changes import NOTICEABLE
from valvetrain.forms.what_if import WhatIfForm
from valvetrain.models import Trial
from valvetrain.what_if_board import TODAY_AS
from valvetrain.what_if_fields import SPECS
from valvetrain.what_if_records import Today

# What decides a trial at a valve: its name in words, its kind of unit, and how many times the number is shown.
STANDING = {
    TODAY_AS.get(spec.name, (spec.name, 1))[0]: (spec.label.lower(), spec.kind, TODAY_AS.get(spec.name, ("", 1))[1])
    for spec in SPECS.values()
    if spec.name not in {"longer_valve", "lash_cap", "deeper_seat", "gauge_step"}
} | {
    "top_now": ("top of shaft as read", "length", 1),
    "retainer_to_seal": ("retainer to seal", "length", 1),
    "rocker_to_retainer": ("rocker to retainer", "length", 1),
    "piston_to_valve": ("piston to valve", "length", 1),
}  # fmt: skip


def standing(today: Today, at: str) -> dict[str, dict[str, str]]:
    """What the records say of the valves of a trial, as plain text so that nothing is lost in JSON."""
    return {
        address: {
            name: repr(value) for name in STANDING if (value := getattr(valve.setup, name, None)) is not None
        }
        for address, valve in today.covered(at).items()
    }


def new_trial(job: Build, person: Person, form: WhatIfForm, today: Today) -> Trial:
    """A trial to be kept, of what stands in the form."""
    return Trial(build=job, kept_by=person, changes=form.to_keep(), stood=standing(today, form.at))


def since(trial: Trial, today: Today, at: str, unit: str) -> list[str]:
    """What has changed in the records since a trial was kept, one sentence for each, the valves alike named together."""
    now = standing(today, at)
    told: dict[str, list[str]] = defaultdict(list)
    for address, held in trial.stood.items():
        if address not in now:
            told["no longer on this job"].append(address)
            continue
        for name in STANDING:
            old, new = held.get(name), now[address].get(name)
            if _differs(old, new):
                told[_sentence(name, old, new, unit)].append(address)
    for address in now.keys() - trial.stood.keys():
        told["new on this job"].append(address)
    return [f"{', '.join(sorted(addresses))}: {words}." for words, addresses in told.items()]


def _differs(old: str | None, new: str | None) -> bool:
    if old is None or new is None:
        return old != new
    return abs(float(old) - float(new)) > NOTICEABLE


def _sentence(name: str, old: str | None, new: str | None, unit: str) -> str:
    words, kind, times = STANDING[name]
    shown = unit_for(kind, unit)

    def told(text: str | None) -> str:
        if text is None:
            return "not known"
        return show(Decimal(text) * times, shown, with_unit=kind != "ratio")

    return f"{words} was {told(old)} when this was kept, now {told(new)}"
