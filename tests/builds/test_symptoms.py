"""The lists to look through: what a book begins with, what the shop makes of it, and that its words stay."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import CausePrompt, Symptom
from builds.symptoms import add_defaults

pytestmark = pytest.mark.django_db


def names() -> list[str]:
    return list(Symptom.objects.values_list("name", flat=True))


def texts(symptom: Symptom) -> list[str]:
    return list(symptom.prompts.order_by("order", "pk").values_list("text", flat=True))


@pytest.fixture
def bent(db: None) -> Symptom:
    return Symptom.objects.get(name="bent pushrod")


def test_a_new_book_has_lists_with_prompts_that_claim_no_source() -> None:
    assert 10 <= Symptom.objects.count() <= 14
    assert all(4 <= each.prompts.count() <= 8 for each in Symptom.objects.all())
    assert set(CausePrompt.objects.values_list("source", flat=True)) == {"common practice, no source"}


def test_every_prompt_of_a_new_book_is_answered_by_it_is_so_or_it_is_not_so() -> None:
    asked = list(CausePrompt.objects.values_list("text", flat=True))
    assert [text for text in asked if text.startswith(("What", "Where", "How", "Which", "When"))] == []
    assert [text for text in asked if ", or still" in text or ", or only" in text or ", or all" in text] == []


def test_what_the_shop_changed_stays_as_it_set_it(bent: Symptom) -> None:
    first = bent.prompts.first()
    assert first is not None
    bent.name = "pushrod bent or broken"
    bent.save(update_fields=["name"])
    first.text, first.in_use = "Was it straight when it went in?", False
    first.save(update_fields=["text", "in_use"])
    before = (names(), texts(bent), CausePrompt.objects.count())
    add_defaults()
    assert (names(), texts(bent), CausePrompt.objects.count()) == before


def test_a_list_that_the_book_never_had_comes_behind_the_shops_own(bent: Symptom) -> None:
    CausePrompt.objects.filter(symptom=bent).delete()
    own = Symptom.objects.create(name="oil in the wrong place", order=99)
    add_defaults()
    assert names()[-1] == own.name
    assert texts(bent) == []  # they were there, and the shop took them away


def test_an_owner_adds_a_list_and_prompts_once(owner_client: Client) -> None:
    token = str(uuid4())
    for _ in range(2):
        owner_client.post(reverse("symptom-new"), {"form_token": token, "name": "stud pulled"})
    added = Symptom.objects.get(name="stud pulled")
    token = str(uuid4())
    for _ in range(2):
        owner_client.post(
            reverse("symptom-prompt-new", args=[added.pk]),
            {"form_token": token, "text": "Is the thread drawn?", "source": "the shop’s own"},
        )
    assert (names()[-1], texts(added)) == ("stud pulled", ["Is the thread drawn?"])


@pytest.mark.parametrize(
    ("name", "data", "sentence"),
    [
        ("symptom-new", {"name": "Bent Pushrod"}, "There is a list “Bent Pushrod” already"),
        ("symptom-new", {"name": " "}, "what is seen"),
        ("symptom-new", {"name": "x" * 81}, "there is room for 80"),
        ("symptom-prompt-new", {"text": "", "source": "own"}, "look at"),
        ("symptom-prompt-new", {"text": "x" * 201, "source": "own"}, "there is room for 200"),
        ("symptom-prompt-new", {"text": "Is it bent?", "source": ""}, "where it comes from"),
        (
            "symptom-prompt-new",
            {
                "text": "does the valve move freely in its guide, by hand, with its spring off?",
                "source": "own",
            },
            "stands on the list already",
        ),
    ],
)
def test_what_does_not_fit_gets_a_sentence(
    owner_client: Client, bent: Symptom, name: str, data: dict[str, str], sentence: str
) -> None:
    before = (Symptom.objects.count(), CausePrompt.objects.count())
    args = [bent.pk] if name == "symptom-prompt-new" else []
    answer = owner_client.post(reverse(name, args=args), {"form_token": str(uuid4()), **data})
    assert answer.status_code == 422
    assert sentence.casefold() in answer.text.casefold()
    assert (Symptom.objects.count(), CausePrompt.objects.count()) == before


def test_a_place_is_said_so_that_sent_twice_is_once(owner_client: Client, bent: Symptom) -> None:
    third = texts(bent)[2]
    moved = CausePrompt.objects.get(symptom=bent, text=third)
    for _ in range(2):
        assert owner_client.post(reverse("prompt-move", args=[moved.pk]), {"place": "1"}).status_code == 302
    assert texts(bent)[0] == third
    last = Symptom.objects.last()
    assert last is not None
    for place in ("1", "99", "x", "-3"):
        owner_client.post(reverse("symptom-move", args=[last.pk]), {"place": place})
    assert names()[0] == last.name
    assert sorted(Symptom.objects.values_list("order", flat=True)) == list(
        range(1, Symptom.objects.count() + 1)
    )


def test_out_of_use_is_not_offered_and_in_use_again_is(owner_client: Client, bent: Symptom) -> None:
    prompt = bent.prompts.all()[0]
    data = {"text": prompt.text, "source": prompt.source}
    owner_client.post(reverse("prompt-edit", args=[prompt.pk]), data)
    assert not CausePrompt.objects.get(pk=prompt.pk).in_use
    owner_client.post(reverse("symptom-edit", args=[bent.pk]), {"name": bent.name})
    assert not Symptom.objects.get(pk=bent.pk).in_use
    owner_client.post(reverse("symptom-edit", args=[bent.pk]), {"name": bent.name, "in_use": "on"})
    assert Symptom.objects.get(pk=bent.pk).in_use


def test_changes_stand_in_the_shops_history(owner_client: Client, bent: Symptom) -> None:
    prompt = bent.prompts.all()[0]
    owner_client.post(
        reverse("prompt-edit", args=[prompt.pk]),
        {"text": "Is the guide tight?", "source": "ours", "in_use": "on"},
    )
    changes = owner_client.get(reverse("shop-changes")).text
    assert "Is the guide tight?" in changes
    assert "Greta Holmqvist" in changes


def test_hostile_words_are_shown_as_words(owner_client: Client, bent: Symptom) -> None:
    hostile = "<script>alert(1)</script>"
    CausePrompt.objects.create(symptom=bent, text=hostile, order=0)
    Symptom.objects.create(name=f"x{hostile}", order=0)
    for address in (reverse("symptom-list"), reverse("symptom", args=[bent.pk])):
        assert hostile not in owner_client.get(address).text


@pytest.mark.parametrize(
    "name", ["symptom-edit", "symptom-move", "symptom-prompt-new", "prompt-edit", "prompt-move"]
)
def test_a_builder_reads_the_lists_and_changes_none(bench_client: Client, bent: Symptom, name: str) -> None:
    key = bent.prompts.all()[0].pk if name.startswith("prompt") else bent.pk
    assert bench_client.get(reverse("symptom", args=[bent.pk])).status_code == 200
    assert bench_client.post(reverse(name, args=[key]), {"place": "1", "name": "x"}).status_code == 403
    assert bench_client.post(reverse("symptom-new"), {"name": "x"}).status_code == 403


def test_the_lists_ask_the_same_number_of_questions_however_many(
    owner_client: Client, bent: Symptom, queries: Callable[[Client, str], int]
) -> None:
    pages = [reverse("symptom-list"), reverse("symptom", args=[bent.pk])]
    few = [queries(owner_client, page) for page in pages]
    for number in range(30):
        made = Symptom.objects.create(name=f"symptom {number}", order=100 + number)
        CausePrompt.objects.create(symptom=made, text="Look?")
        CausePrompt.objects.create(symptom=bent, text=f"Look {number}?", order=50 + number)
    assert [queries(owner_client, page) for page in pages] == few


def test_the_shops_page_leads_to_the_lists(bench_client: Client) -> None:
    text: Any = bench_client.get(reverse("shop")).text
    assert reverse("symptom-list") in text
