"""Who may sign what, and what a signature has to hold. Refusals are sentences."""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from builds.models import Person, Role
from builds.sealing.differences import Difference

MOST_STROKES = 200_000  # characters
FEWEST_POINTS = 4
NOTHING_DRAWN = "Nothing is drawn. Sign with a finger or a pen in the box."
TYPED = "Signed by typing my name, not by drawing."
MEANINGS = {
    Role.MEASURED: "I measured what this sheet shows, and it is as I found it.",
    Role.CHECKED: "I checked this sheet against the engine’s log and its limits.",
}


class SealRefused(Exception):
    """Something cannot be signed, sealed or accepted: a sentence, and what changed where that is the reason."""

    def __init__(
        self, sentence: str, differences: Sequence[Difference] = (), lacks: Sequence[str] = ()
    ) -> None:
        super().__init__(sentence)
        self.sentence, self.differences, self.lacks = sentence, tuple(differences), tuple(lacks)


@dataclass(frozen=True)
class Mark:
    """What a person puts under a sheet.

    `strokes` is JSON: {"width": w, "height": h, "strokes": [[[x, y], …], …]}, in the pixels of the pad. Who cannot draw
    types instead: {"width": w, "height": h, "strokes": [], "typed": name}; what the signature says then tells so.
    `seen_digest` is that of the sheet that was on the screen.
    """

    client_id: UUID
    typed_name: str
    strokes: str
    seen_digest: str
    signed_at: datetime
    meaning: str = field(default="")

    def meaning_as(self, role: Role) -> str:
        """What the signature says; the house's own words where nothing is given."""
        said = self.meaning.strip() or MEANINGS[role]
        return f"{said} {TYPED}" if typed_instead(self.strokes) else said


def may_check(person: Person) -> bool:
    """Whether this person may check what others measured."""
    return person.is_active and person.may_check


def refuse_mark(person: Person, mark: Mark) -> None:
    """Refuse a name that is not the person's, and a drawing that is none."""
    if _plain_name(mark.typed_name) != _plain_name(str(person)):
        raise SealRefused(f"“{mark.typed_name.strip()}” is not your name as the book has it. Type {person}.")
    strokes_of(mark.strokes)
    typed = typed_instead(mark.strokes)
    if typed and _plain_name(typed) != _plain_name(mark.typed_name):
        raise SealRefused(
            "The name that stands for a drawn signature is not the one you typed. Sign once more."
        )


def typed_instead(text: str) -> str:
    """The name that was typed in place of a drawn signature; nothing where it was drawn."""
    try:
        found = json.loads(text)["typed"] if len(text) <= MOST_STROKES else ""
    except (ValueError, TypeError, KeyError, RecursionError):
        return ""
    return found.strip() if isinstance(found, str) else ""


def strokes_of(text: str) -> tuple[float, float, list[list[tuple[float, float]]]]:
    """Width, height and strokes of a drawn signature; no strokes where a name was typed in its place.

    Raises `SealRefused` where there is neither.
    """
    if len(text) > MOST_STROKES:
        raise SealRefused("This signature has more lines than can be kept. Clear it and sign once more.")
    if not text.strip():
        raise SealRefused(NOTHING_DRAWN)
    try:
        drawn: Any = json.loads(text)
        width, height = _number(drawn["width"]), _number(drawn["height"])
        strokes = [[(_number(x), _number(y)) for x, y in stroke] for stroke in drawn["strokes"]]
    except (ValueError, TypeError, KeyError, RecursionError):
        raise SealRefused("The drawn signature did not come whole. Clear it and sign once more.") from None
    drawn_enough = sum(map(len, strokes)) >= FEWEST_POINTS or (not strokes and typed_instead(text))
    if width <= 0 or height <= 0 or not drawn_enough:
        raise SealRefused(NOTHING_DRAWN)
    return width, height, strokes


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(value)
    return float(value)


def _plain_name(name: str) -> str:
    return " ".join(name.split()).casefold()
