"""Every form of the book refuses in the book's own words: none of Django's stock sentences reaches a person."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import django
import pytest
from django.contrib import auth
from django.test import Client
from django.urls import reverse

from builds.models import Customer, Instrument, Limit, PartFitted, Person, UsualUncertainty
from tests.valvetrain.shopfloor import a_gauge, a_head, a_job, some_rockers
from valvetrain.models import ShimStock, SpringSheet

pytestmark = pytest.mark.django_db

ODD = [
    "",
    "\0",
    "a\0b",
    "abc",
    "<b>",
    "−9",
    "-999999999999",
    "9" * 25,
    "0",
    "1,5.2",
    "5" * 5000,
    "9999-99-99",
    "é ü",
]
PAGES = [
    "customer-new", "customer-edit", "engine-new", "engine-edit", "job-open", "job-edit", "part-new", "part-edit",
    "instrument-new", "instrument-edit", "shop-edit", "limit-edit", "guard-band", "usual-uncertainty-edit",
    "person-new", "person-edit", "person-password", "me", "password", "head-new", "head-edit", "valves-edit",
    "stand-new", "stand-edit", "copy-to-shelf", "layout-new", "gauge-new", "gauge-edit", "shim-new", "shim-edit",
    "rocker-set-new", "rocker-set-edit", "cam-card", "spring-sheet-new", "spring-sheet-edit", "job-limit",
]  # fmt: skip
SPRING = {"installed_height": "1.9", "seat_load": "240", "solid_height": "1.1"}


def stock_sentences() -> list[re.Pattern[str]]:
    """Django's own messages, from the lists that it ships for its translators."""
    found = set()
    for package in (django, auth):
        folder = "conf/locale" if package is django else "locale"
        text = Path(package.__path__[0], folder, "en/LC_MESSAGES/django.po").read_text(encoding="utf-8")
        text = text.replace('"\n"', "")
        found |= set(re.findall(r'^msgid(?:_plural)? "(.+)"$', text, re.MULTILINE))
    sentences = [message for message in found if message.count(" ") >= 2]
    assert len(sentences) > 100
    return [re.compile(re.sub(r"%\\?\((\w+)\\?\)\w|%\w", ".+", re.escape(each))) for each in sentences]


STOCK = stock_sentences()


@pytest.fixture
def pages(owner: Person) -> dict[str, str]:
    """The address of every page with a form."""
    job = a_job()
    head, rockers, gauge = a_head(job), some_rockers(job), a_gauge()
    part = PartFitted.objects.create(build=job, role="pushrod")
    args: dict[str, list[Any]] = {
        "customer-edit": [job.engine.customer_id], "engine-new": [job.engine.customer_id],
        "engine-edit": [job.engine_id], "job-open": [job.engine_id], "part-edit": [job.pk, part.pk],
        "instrument-edit": [Instrument.objects.create(mark="MIC-1", kind="micrometer").pk],
        "limit-edit": [Limit.objects.get(key="sweep").pk],
        "usual-uncertainty-edit": [UsualUncertainty.objects.first().pk],
        "person-edit": [owner.pk], "person-password": [owner.pk], "gauge-edit": [gauge.pk],
        "shim-edit": [ShimStock.objects.create(thickness="0.01", count=3).pk], "rocker-set-edit": [rockers.pk],
        "stand-edit": [head.pk, head.stands.first().pk],
    }  # fmt: skip
    args["job-limit"] = [job.pk, "sweep"]
    args["spring-sheet-edit"] = [SpringSheet.objects.create(build=job, **SPRING).pk]
    args["spring-sheet-new"] = [a_job("26-015").pk]
    args |= {name: [head.pk] for name in ("head-edit", "valves-edit", "stand-new", "copy-to-shelf")}
    args |= {name: [job.pk] for name in ("job-edit", "part-new", "head-new", "rocker-set-new", "cam-card")}
    return {name: reverse(name, args=args.get(name, [])) for name in PAGES}


def forms_of(answer: Any) -> Iterator[Any]:
    """The forms of a page, with those inside them."""
    form = answer.context.get("form")
    if form is not None:
        yield form
        yield from [form.facts] if hasattr(form, "facts") else []
        yield from [form.pads, *form.pads] if hasattr(form, "pads") else []
    rows = answer.context.get("rows")
    yield from [rows, *rows] if rows is not None else []


def told(answer: Any) -> Iterator[str]:
    """Everything that a page's forms say."""
    for form in forms_of(answer):
        if hasattr(form, "non_form_errors"):
            yield from form.non_form_errors()
        else:
            for errors in form.errors.values():
                yield from errors


@pytest.mark.parametrize("name", PAGES)
def test_no_page_answers_in_stock_sentences(owner_client: Client, pages: dict[str, str], name: str) -> None:
    shown = [form for form in forms_of(owner_client.get(pages[name])) if hasattr(form, "fields")]
    fields = [bound for form in shown for bound in form]
    kept = {
        bound.html_name: bound.value()
        for form in forms_of(owner_client.get(pages[name]))
        if hasattr(form, "management_form")
        for bound in form.management_form
    }
    for odd in ODD:
        sent = {bound.html_name: odd for bound in fields} | kept
        answer = owner_client.post(pages[name], sent)
        if answer.status_code == 302:
            continue
        leaked = [line for line in told(answer) if any(stock.fullmatch(line) for stock in STOCK)]
        assert leaked == [], odd[:20]


@pytest.mark.parametrize(
    ("name", "field", "typed", "sentence"),
    [
        ("cam-card", "intake_lobe_lift", "0", "Intake lobe lift: that is too small. Type 0.001 in or more."),
        ("rocker-set-new", "arm_length", "0", "Arm length: that is too small. Type a value above 0."),
        (
            "rocker-set-new",
            "fits",
            "both ways",
            "Works: this is none of the choices. Choose one from the list.",
        ),
        ("stand-new", "pad_tilt", "50", "Pad tilt: that is too large. Type a value from -45° to 45°."),
        ("stand-new", "bolt_length", "long", "Bolt length: “long” is not a number."),
        ("customer-new", "name", "a\0b", "Name: there is a sign in it that cannot be kept."),
        (
            "person-new",
            "username",
            "no ra",
            "Log-in name: there is a space or a sign in it that does not fit.",
        ),
        ("person-new", "password", "short", "This password is too short. Use 8 characters or more"),
        ("person-new", "password", "password", "This password is one that everybody tries first."),
        ("head-new", "code", "7", "Letter: Letters, digits and dashes, a letter first"),
    ],
)
def test_a_refusal_names_the_field_what_was_wrong_and_what_would_be_right(
    owner_client: Client, pages: dict[str, str], name: str, field: str, typed: str, sentence: str
) -> None:
    answer = owner_client.post(pages[name], {field: typed})
    assert answer.context["form"].errors[field][0].startswith(sentence)


def test_the_ends_of_a_range_are_told_in_the_unit_of_the_person(
    owner_client: Client, owner: Person, pages: dict[str, str]
) -> None:
    Person.objects.filter(pk=owner.pk).update(length_unit="mm")
    answer = owner_client.post(pages["cam-card"], {"intake_lobe_lift": "0"})
    # 1 in = 25.4 mm exactly, so a thousandth is 0.0254 mm.
    assert answer.context["form"].errors["intake_lobe_lift"] == [
        "Intake lobe lift: that is too small. Type 0.0254 mm or more."
    ]


def test_a_limit_without_an_end_is_refused_once(owner_client: Client, pages: dict[str, str]) -> None:
    answer = owner_client.post(pages["limit-edit"], {"low": "", "high": "", "source": "shop"})
    assert list(told(answer)) == [
        "sweep on the tip: a limit needs at least one end. Fill in “not below” or “not above”."
    ]


@pytest.mark.parametrize(
    "sent", [{"x": "1"}, {"valves-TOTAL_FORMS": "1", "valves-INITIAL_FORMS": "1", "valves-0-id": "9999"}]
)
def test_rows_that_do_not_fit_the_head_any_more_are_refused_in_words(
    owner_client: Client, pages: dict[str, str], sent: dict[str, str]
) -> None:
    answer = owner_client.post(pages["valves-edit"], sent)
    assert answer.status_code == 422
    assert "Load " in " ".join(answer.context["rows"].non_form_errors())


def test_a_customer_is_the_only_thing_that_may_share_a_name(
    owner_client: Client, pages: dict[str, str]
) -> None:
    Customer.objects.create(name="Orla Quint")
    assert owner_client.post(pages["customer-new"], {"name": "Orla Quint"}).status_code == 302
