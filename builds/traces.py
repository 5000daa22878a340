"""How the ground floor's edits are told: what each record is called, and where it belongs."""

from django.db.models import Q

from builds.edits import Trace, as_a, plainly, traces
from builds.models import (
    Build,
    CausePrompt,
    CheckRule,
    Customer,
    Engine,
    Evidence,
    Finding,
    FindingPhoto,
    Instrument,
    Limit,
    PartFitted,
    PartTakenOut,
    Person,
    PromptLook,
    Recall,
    RecallLine,
    Return,
    Shop,
    Symptom,
    UsualUncertainty,
)

PERSON_WORDS = {
    "username": "log-in name",
    "is_superuser": "owner",
    "is_active": "works in this book",
    "email": "e-mail",
    "name": "full name",
}

# What the book sets of a job, and nobody types.
OF_THE_BOOK = frozenset({"opened_by", "kind", "follows", "after_run"})


def register_traces() -> None:
    """Enter the models of this floor."""
    limit_is = frozenset({"key", "unit_kind", "name"})
    account = frozenset({"is_staff", "date_joined"})
    noted = frozenset({"noted_by", "found_by", "found_at", "looked_by", "opened_by", "opened_at", "by_mark"})
    traces.extend(
        [
            Trace(Build, plainly("job"), of_job=lambda job: Q(id=job.pk), hidden=OF_THE_BOOK),
            Trace(Engine, plainly("engine"), of_job=lambda job: Q(id=job.engine_id)),
            Trace(Customer, plainly("customer"), of_job=lambda job: Q(id=job.engine.customer_id)),
            Trace(PartFitted, as_a("part"), on_job=True),
            Trace(
                PartTakenOut,
                as_a("taken out:"),
                within=("part",),
                on_job=True,
                many="parts taken out",
                hidden=noted,
            ),
            Trace(Return, plainly("return"), on_job=True, hidden=noted),
            Trace(Finding, as_a("finding"), on_job=True, hidden=noted),
            Trace(FindingPhoto, as_a("photo of a finding:"), within=("finding",), on_job=True),
            Trace(Evidence, as_a("evidence:"), within=("finding",), on_job=True, hidden=noted),
            Trace(
                PromptLook,
                as_a("looked at:"),
                within=("finding",),
                on_job=True,
                many="things looked at",
                hidden=noted,
            ),
            Trace(Symptom, as_a("list to look through:"), in_shop=True, many="lists to look through"),
            Trace(CausePrompt, as_a("look at:"), in_shop=True, many="things to look at"),
            Trace(CheckRule, as_a("rule to look again:"), in_shop=True, many="rules to look again"),
            Trace(Recall, as_a("recall of"), in_shop=True, hidden=noted),
            Trace(RecallLine, as_a("on a recall:"), within=("part",), in_shop=True, many="parts on recalls"),
            Trace(Limit, as_a("limit of"), on_job=True, in_shop=True, hidden=limit_is),
            Trace(Instrument, lambda tool, unit: f"instrument {tool.mark}", in_shop=True),
            Trace(UsualUncertainty, as_a("usual uncertainty of"), in_shop=True, many="usual uncertainties"),
            Trace(Shop, plainly("shop"), in_shop=True, words={"name": "name"}),
            Trace(Person, as_a("person"), in_shop=True, many="people", words=PERSON_WORDS, hidden=account),
        ]
    )
