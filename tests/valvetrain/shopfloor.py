"""A job for the tests of the upper floor, with heads from the shelf's own layouts."""

import uuid
from decimal import Decimal
from typing import Any

from django.forms import BaseForm
from django.forms.formsets import BaseFormSet

from builds.models import Build, Customer, Engine, Instrument, InstrumentKind, Person
from builds.recording import Entry, record
from valvetrain.models import Head, HeightGauge, RockerSet


def a_job(number: str = "26-014", cylinders: int = 8) -> Build:
    """A job on an engine, without heads."""
    customer = Customer.objects.create(name="Orla Quint")
    engine = Engine.objects.create(customer=customer, name="V8, two heads", cylinders=cylinders)
    return Build.objects.create(job_number=number, engine=engine)


def a_head(
    job: Build, code: str = "L", cylinders: str = "1357", layout: str = "V8 head, paired stands"
) -> Head:
    """A head on a job, copied from a layout."""
    places = {place: int(number) for place, number in enumerate(cylinders, start=1)}
    source = Head.objects.get(layout_name=layout)
    return source.copy_to(job, code=code, name=f"{code or 'The'} head", cylinders=places)


def some_rockers(job: Build, **changes: Any) -> RockerSet:
    """Rockers of plain size, for both kinds of valve."""
    sizes = {
        "arm_length": Decimal("1.65"), "tip_diameter": Decimal("0.47"), "shaft_diameter": Decimal("0.70"),
    }  # fmt: skip
    return RockerSet.objects.create(build=job, **{**sizes, **changes})


def a_gauge(mark: str = "HG-1") -> HeightGauge:
    """A height gauge with a measured step."""
    instrument = Instrument.objects.create(mark=mark, kind=InstrumentKind.HEIGHT_GAUGE)
    return HeightGauge.objects.create(instrument=instrument, step=Decimal("0.235"))


def measure(job: Build, person: Person, position: str, text: str = "0.700", what: str = "net_lift") -> None:
    """Write one reading."""
    record(job, person, Entry(uuid.uuid4(), position, what, text, "in"))


def filled(*forms: BaseForm | BaseFormSet, **changes: str) -> dict[str, str]:
    """What a browser sends when a page's forms are sent back, with some fields typed over."""
    sent: dict[str, str] = {}
    for form in forms:
        members = [form.management_form, *form] if isinstance(form, BaseFormSet) else [form]
        for member in members:
            for bound in member:
                value = bound.value()
                shown = (
                    bound.field.widget.format_value(value)
                    if hasattr(bound.field.widget, "format_value")
                    else value
                )
                if isinstance(shown, list):
                    shown = shown[0] if shown else ""
                if value is True:
                    shown = "on"
                if value is not False:
                    sent[bound.html_name] = "" if shown is None else str(shown)
    return sent | changes
