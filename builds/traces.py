"""How the ground floor's edits are told: what each record is called, and where it belongs."""

from django.db.models import Q

from builds.edits import Trace, as_a, plainly, traces
from builds.models import (
    Build,
    Customer,
    Engine,
    Instrument,
    Limit,
    PartFitted,
    Person,
    Shop,
    UsualUncertainty,
)

PERSON_WORDS = {
    "username": "log-in name",
    "is_superuser": "owner",
    "is_active": "works in this book",
    "email": "e-mail",
    "name": "full name",
}


def register_traces() -> None:
    """Enter the models of this floor."""
    limit_is = frozenset({"key", "unit_kind", "name"})
    account = frozenset({"is_staff", "date_joined"})
    traces.extend(
        [
            Trace(Build, plainly("job"), of_job=lambda job: Q(id=job.pk), hidden=frozenset({"opened_by"})),
            Trace(Engine, plainly("engine"), of_job=lambda job: Q(id=job.engine_id)),
            Trace(Customer, plainly("customer"), of_job=lambda job: Q(id=job.engine.customer_id)),
            Trace(PartFitted, as_a("part"), on_job=True),
            Trace(Limit, as_a("limit of"), on_job=True, in_shop=True, hidden=limit_is),
            Trace(Instrument, lambda tool, unit: f"instrument {tool.mark}", in_shop=True),
            Trace(UsualUncertainty, as_a("usual uncertainty of"), in_shop=True, many="usual uncertainties"),
            Trace(Shop, plainly("shop"), in_shop=True, words={"name": "name"}),
            Trace(Person, as_a("person"), in_shop=True, many="people", words=PERSON_WORDS, hidden=account),
        ]
    )
