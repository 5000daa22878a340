"""What the plan drawing looks up: the state of each address, in a word."""

from collections.abc import Mapping
from typing import Any

from django.template import Library

register = Library()

STATE_WORDS = {"is-done": "done", "is-todo": "to do", "is-out": "out", "is-look": "look"}


@register.filter
def at_address(mapping: Mapping[str, Any] | None, address: str) -> Any:
    """What a dict holds for an address; or nothing: `{{ states|at_address:target.address }}`."""
    return (mapping or {}).get(address, "")


@register.filter
def state_word(state: str) -> str:
    """The word that stands beside a state's sign."""
    return STATE_WORDS.get(state, "")
