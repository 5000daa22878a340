"""How often the shop looks again: what a new book has, and how an owner changes it."""

import json
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from builds.models import CheckRule
from builds.models.running import DEFAULT_CHECK_RULES
from builds.rights import ONLY_AN_OWNER
from builds.steps import get_step


@pytest.fixture
def rule(db: None) -> CheckRule:
    """Lash, by passes."""
    return CheckRule.objects.get(step="lash", unit="passes")


def page(rule: CheckRule) -> str:
    return reverse("check-rule-edit", args=[rule.pk])


@pytest.mark.parametrize(
    ("step", "unit", "first", "every"),
    [
        ("lash", "passes", "1", "10"),
        ("lash", "hours", None, "10"),
        ("lash", "laps", None, "200"),
        ("springs", "passes", None, "50"),
        ("springs", "hours", None, "50"),
        ("springs", "laps", None, "1000"),
    ],
)
def test_a_new_book_has_the_shops_rules(
    db: None, step: str, unit: str, first: str | None, every: str
) -> None:
    found = CheckRule.objects.get(step=step, unit=unit)
    assert (found.first_after, found.every) == (first and Decimal(first), Decimal(every))
    assert found.source == "shop setting; common practice, no source"


def test_every_rule_is_of_a_step_of_the_log(db: None) -> None:
    for row in json.loads(DEFAULT_CHECK_RULES.read_text(encoding="utf-8")):
        assert get_step(row["fields"]["step"]) is not None


def test_migrating_again_leaves_what_the_shop_set(rule: CheckRule) -> None:
    CheckRule.objects.filter(pk=rule.pk).update(every=Decimal(8))
    call_command("migrate", verbosity=0)
    rule.refresh_from_db()
    assert (rule.every, CheckRule.objects.count()) == (8, 6)


def test_when_the_next_look_is_due(rule: CheckRule) -> None:
    assert [rule.due_at(at) for at in (None, Decimal(0), Decimal(12))] == [1, 10, 22]
    rule.first_after = None
    assert rule.due_at(None) == 10


def test_amounts_in_words(rule: CheckRule) -> None:
    assert (rule.first_words, rule.every_words) == ("1 pass", "10 passes")


def test_an_owner_changes_a_rule_and_the_history_keeps_it(owner_client: Client, rule: CheckRule) -> None:
    sent = {"first_after": "", "every": "12.5", "in_use": "on", "source": "our own"}
    assert owner_client.post(page(rule), sent).status_code == 302
    rule.refresh_from_db()
    assert (rule.first_after, rule.every, rule.source) == (None, Decimal("12.5"), "our own")
    assert "12.5 passes" in owner_client.get(reverse("shop")).text
    assert "Rule to look again: lash, by passes" in owner_client.get(reverse("shop-changes")).text


@pytest.mark.parametrize(
    ("field", "typed", "told"),
    [
        ("every", "0", "Then every: type a number"),
        ("every", "often", "Then every: type a number"),
        ("every", "", "Then every: nothing is filled in"),
        ("first_after", "-1", "First after: type a number"),
        ("source", "", "Where it comes from: nothing is filled in"),
    ],
)
def test_what_is_no_rule_is_refused_in_a_sentence(
    owner_client: Client, rule: CheckRule, field: str, typed: str, told: str
) -> None:
    sent = {"first_after": "1", "every": "10", "in_use": "on", "source": "x", field: typed}
    answer = owner_client.post(page(rule), sent)
    assert (answer.status_code, told in answer.text) == (422, True)
    assert f'value="{typed}"' in answer.text or not typed


def test_only_an_owner_changes_a_rule(bench_client: Client, rule: CheckRule) -> None:
    answer = bench_client.post(page(rule), {"every": "1", "source": "x"})
    assert (answer.status_code, ONLY_AN_OWNER in answer.text) == (403, True)
    assert page(rule) not in bench_client.get(reverse("shop")).text


def test_a_rule_that_is_not_there(owner_client: Client) -> None:
    assert owner_client.get(reverse("check-rule-edit", args=[9999])).status_code == 404


@pytest.mark.parametrize("typed", ["0", "-1", "99999999", "soon"])
def test_a_rule_that_cannot_be_says_from_where_to_where(
    owner_client: Client, rule: CheckRule, typed: str
) -> None:
    answer = owner_client.post(page(rule), {"first_after": "", "every": typed, "source": "our own"})
    assert (answer.status_code, "Then every: type a number from 0.01 to 999999." in answer.text) == (
        422,
        True,
    )
