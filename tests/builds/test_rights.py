"""Who may do what: every address of the book has an entry in the table, and every kind of person meets it there."""

from collections.abc import Iterator
from copy import deepcopy
from typing import Any
from uuid import uuid4

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from builds import rights
from builds.findings import Told, add_finding
from builds.guests import new_token
from builds.models import (
    CausePrompt,
    CheckRule,
    EnrolledTablet,
    GuestLink,
    Limit,
    PartFitted,
    PartTakenOut,
    Person,
    Recall,
    RecallLine,
    RecallMark,
    Symptom,
    UsualUncertainty,
)
from builds.rights import Right
from builds.sitting import GUEST_KEY, KEY
from tests.scenes import Scene, make_scene

ROLES = ["owner", "builder", "checker", "office", "guest", "nobody"]
# Written down by hand, not taken from the table: what each may do besides being let in at the door.
MAY = {
    "owner": {"read", "own", "print", "measure", "setup", "office", "share", "sign", "check", "shop", "people"},
    "builder": {"read", "own", "print", "measure", "setup", "office", "sign"},
    "checker": {"read", "own", "print", "measure", "setup", "office", "sign", "check"},
    "office": {"read", "own", "print", "office", "share"},
    "guest": {"guest"},
    "nobody": set(),
}  # fmt: skip


def patterns(found: list[Any] | None = None, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    """Every address of the book, those of other floors too, with its name."""
    for each in get_resolver().url_patterns if found is None else found:
        if isinstance(each, URLResolver):
            yield from patterns(each.url_patterns, f"{before}{each.namespace}:" if each.namespace else before)
        else:
            yield before + (each.name or ""), each


ADDRESSES = dict(patterns())


@pytest.fixture
def scene(owner: Person) -> Scene:
    return make_scene(owner)


@pytest.fixture
def people(owner: Person, builder: Person) -> dict[str, Person | None]:
    """One of each kind. A checker is a builder with that right; an office person is nobody's checker."""
    kinds = {"checker": {"may_check": True}, "office": {"role": "office"}}
    made = {
        name: Person.objects.create_user(name, name=f"The {name}", password="x", **more)
        for name, more in kinds.items()
    }
    return {"owner": owner, "builder": builder, **made, "guest": None, "nobody": None}


@pytest.fixture
def link(scene: Scene, owner: Person) -> GuestLink:
    token, digest = new_token()
    made = GuestLink.objects.create(build=scene.build, digest=digest, name="crew", made_by=owner)
    made.token = token
    return made


@pytest.fixture
def where(scene: Scene, owner: Person, link: GuestLink) -> dict[str, Any]:
    """Something real behind whatever an address takes. `pk` is another record at each: see `address_of`."""
    stand = scene.left.stands.first()
    part = PartFitted.objects.create(build=scene.build, role="pushrod", lot="P7", quantity=16)
    out = PartTakenOut.objects.create(part=part, noted_by=owner)
    recall = Recall.objects.create(by="lot", value="P7", reason="soft ends", advice="stop", opened_by=owner)
    line = RecallLine.objects.create(recall=recall, part=part)
    mark = RecallMark.objects.create(line=line, step="told", by=owner)
    finding, _new = add_finding(scene.build, owner, Told("pushrod bent", "bent", "5E"))
    tablet = EnrolledTablet.objects.create(name="bench", digest="d" * 64, enrolled_by=owner)
    return {
        "job_pk": scene.build.pk, "evidence_pk": 1, "head_pk": scene.left.pk, "stand_pk": stand.pk, "part_pk": part.pk,
        "valve_pk": scene.left.valves.first().pk, "address": "1I", "kind": "intake", "side": "today",
        "part": "masses", "which": "lift", "size": "thumb", "key": "lift", "token": link.token,
        "client_id": uuid4(), "photo_id": uuid4(), "run_id": uuid4(), "number": 1, "subject": "job",
        "out_pk": out.pk, "mark_pk": mark.pk, "engine_pk": scene.build.engine_id,
        "customer_pk": scene.build.engine.customer_id,
        "pk": {
            "recall": recall.pk, "part": scene.build.pk,
            "job": scene.build.pk, "customer": scene.build.engine.customer_id, "engine": scene.build.engine_id,
            "instrument": scene.gauge.instrument_id, "limit": Limit.objects.get(key="sweep").pk,
            "usual": UsualUncertainty.objects.first().pk, "person": owner.pk, "head": scene.left.pk,
            "valves": scene.left.pk, "stand": scene.left.pk, "copy": scene.left.pk, "gauge": scene.gauge.pk,
            "rocker": scene.build.rocker_sets.first().pk, "tablet": tablet.pk,
            "check": CheckRule.objects.first().pk,
            "finding": finding.pk, "symptom": Symptom.objects.first().pk, "prompt": CausePrompt.objects.first().pk,
        },
    }  # fmt: skip


def address_of(name: str, pattern: URLPattern, where: dict[str, Any]) -> str:
    """The address with something behind whatever it takes; a number that belongs to nothing where none is named."""
    taken: dict[str, Any] = {}
    for argument in pattern.pattern.converters:
        value = where.get(argument, "x")
        if isinstance(value, dict):
            value = value.get("job" if name in ("job-open",) else name.split("-")[0], 1)
        taken[argument] = value
    if name == "job-link-revoke":
        taken["pk"] = GuestLink.objects.get().pk
    return reverse(name, kwargs=taken)


def browser_of(role: str, people: dict[str, Person | None], link: GuestLink) -> Client:
    client = Client()
    person = people[role]
    if person is not None:
        client.force_login(person)
    if role == "guest":
        client.get(reverse("guest-enter", args=[link.token]))
    return client


def outcome(client: Client, method: str, address: str) -> str:
    """Whether the table let a request through, in one word. Nothing that it does stays."""
    fresh = Client()  # leaving the book takes the cookie from the browser that leaves
    fresh.cookies = deepcopy(client.cookies)
    with transaction.atomic():
        answer = getattr(fresh, method)(address)
        transaction.set_rollback(True)
    if answer.status_code == 302 and answer.url.startswith(reverse("login")):
        return "to the log-in"
    if method == "head":  # an answer without words
        return {403: "refused", 404: "no link"}.get(answer.status_code, "let through")
    text = answer.content.decode(errors="replace") if not answer.streaming else ""
    told = {*rights.SENTENCES.values(), rights.NO_ENTRY, "Your link opens one job, and nothing else"}
    if answer.status_code == 403 and any(sentence in text for sentence in told):
        return "refused"
    if answer.status_code == 404 and "This link opens nothing" in text:
        return "no link"
    return "let through"


def wanted(role: str, right: Right) -> str:
    if right is Right.OPEN or right.value in MAY[role]:
        return "let through"
    if right is Right.GUEST:
        return "no link"
    return {"nobody": "to the log-in", "guest": "refused"}.get(role, "refused")


def test_every_address_has_an_entry_and_a_name() -> None:
    assert "" not in ADDRESSES
    assert sorted(ADDRESSES) == sorted(set(rights.url_rules) & set(ADDRESSES))


def test_no_address_is_entered_twice() -> None:
    with pytest.raises(ValueError, match="stands in the table of rights already"):
        rights.enter("job-list", Right.READ)


@pytest.mark.parametrize("method", ["get", "head", "post"])
@pytest.mark.parametrize("role", ROLES)
def test_every_address_meets_every_kind_of_person_as_the_table_says(
    role: str,
    method: str,
    people: dict[str, Person | None],
    where: dict[str, Any],
    link: GuestLink,
    photo_folder: Any,
) -> None:
    """By real requests. Signing in and out is left to its own tests: it changes who asks."""
    client = browser_of(role, people, link)
    session = dict(client.session) if client.cookies else {}
    wrong = {}
    for name, pattern in ADDRESSES.items():
        if name == "guest-enter" and method != "post":
            continue
        right = rights.url_rules[name].asks(method.upper())
        if method == "head" and right in (Right.OPEN, Right.GUEST):
            continue  # what is said at the door has no words here
        found = outcome(client, method, address_of(name, pattern, where))
        if found == "no link" and right is not Right.GUEST:
            found = "let through"  # there is nothing at this address, which the view says and not the table
        if name == "first-owner" or (name == "logout" and method == "post" and people[role]):
            assert found == "to the log-in"  # where a book with an owner, and leaving it, lead to
        elif found != wanted(role, right):
            wrong[name] = f"{found}, not {wanted(role, right)}"
    assert wrong == {}
    assert session.get(KEY, {}).get("pin") in (None, False)
    assert (GUEST_KEY in session) == (role == "guest")


@pytest.mark.parametrize("role", ["owner", "builder", "checker", "office"])
def test_the_rights_of_a_person_are_those_written_down(role: str, people: dict[str, Person | None]) -> None:
    person = people[role]
    assert person is not None
    assert {right.value for right in rights.rights_of(person)} == MAY[role] | {"open"}


def test_who_has_left_may_nothing(builder: Person) -> None:
    builder.is_active = False
    assert rights.rights_of(builder) == {Right.OPEN}


def test_an_owner_whose_right_to_check_is_switched_off_does_not_check(owner: Person) -> None:
    owner.may_check = False
    assert "An owner gives it, under People." in rights.why_not(Right.CHECK, owner)
    assert not rights.why_not(Right.SHOP, owner)


@pytest.mark.parametrize("right", [Right.SHOP, Right.PEOPLE, Right.SHARE])
def test_a_pin_does_not_open_the_shop(owner: Person, right: Right) -> None:
    assert rights.why_not(right, owner, by_pin=True) == rights.CAME_BY_PIN
    assert not rights.why_not(Right.MEASURE, owner, by_pin=True)


def test_an_address_without_an_entry_is_open_to_nobody(owner_client: Client, monkeypatch: Any) -> None:
    monkeypatch.delitem(rights.url_rules, "drawer")
    answer = owner_client.get(reverse("drawer"))
    assert (answer.status_code, "open to nobody" in answer.text) == (403, True)


def test_what_a_tablet_sends_is_refused_in_the_form_it_shows(
    people: dict[str, Person | None], link: GuestLink, scene: Scene
) -> None:
    client = browser_of("office", people, link)
    answer = client.post(reverse("bench-reading", args=[scene.left.pk]), headers={"hx-request": "true"})
    assert (answer.status_code, answer.json()["sentence"]) == (403, rights.SENTENCES[Right.MEASURE])


@pytest.mark.parametrize("name", ["job-new", "customer-new"])
def test_the_office_keeps_the_customers_and_jobs(
    people: dict[str, Person | None], link: GuestLink, name: str
) -> None:
    assert browser_of("office", people, link).get(reverse(name)).status_code == 200


def test_the_table_in_the_guide_for_developers_is_the_one_in_the_code() -> None:
    with open("DEVELOPERS.md", encoding="utf-8") as file:
        text = file.read()
    for role in ("owner", "builder", "office", "guest"):
        row = next(line for line in text.splitlines() if line.startswith(f"| {role} |"))
        told = {word.strip(" `") for word in row.split("|")[2].split(",")}
        assert told == {right.value for right in rights.ROLES[role]} - {"open"}
