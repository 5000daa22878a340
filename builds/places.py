"""Where something was found: an address of the job, tapped or typed, or a place in words where nothing has one.

The ground floor draws the engine from its own numbers; another floor adds its drawings through `place_pickers`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from builds.models import Build
from builds.positions import positions_of
from builds.recording import EntryRefused

NEAR = 4
PLACE_LENGTH = 40


@dataclass(frozen=True)
class PlacePicker:
    """A drawing on which places are tapped: its title, the template that draws it, and what that is given.

    The template makes each place a link: `links` and the address, with `data-address`.
    """

    title: str
    template: str
    drawing: Any


# Each takes a job and gives its drawings.
place_pickers: list[Callable[[Build], list[PlacePicker]]] = []


def pickers_of(job: Build) -> list[PlacePicker]:
    """Every drawing of a job on which a place can be tapped."""
    return [picker for provider in place_pickers for picker in provider(job)]


def read_place(job: Build, address: str, words: str, known: Mapping[str, str] | None = None) -> str:
    """The place that is kept: an address as it is chalked, else words. Raises `EntryRefused` with a sentence."""
    address, words = address.strip(), " ".join(words.split())
    if address and words:
        raise EntryRefused(
            "place_words",
            f"Where: both “{address}” and “{words}” are filled in. Keep one of them; more of it goes into the detail.",
        )
    known = positions_of(job) if known is None else known
    written = {_plainly(each): each for each in known}
    if not address:
        return written.get(_plainly(words), words) if words else ""
    found = written.get(_plainly(address))
    if found is None:
        raise EntryRefused("position", no_such_place(job, address, known))
    return found


def no_such_place(job: Build, address: str, known: Mapping[str, str]) -> str:
    """Why an address is refused, with those that are written much like it."""
    written = {_plainly(each): each for each in known}
    near = get_close_matches(_plainly(address), list(written), n=NEAR, cutoff=0.5) or list(written)[:NEAR]
    return (
        f"There is no “{address[:PLACE_LENGTH]}” on job {job}. Written much like it: "
        f"{', '.join(written[each] for each in near)}. Tap the drawing, or write what has no address as a place in words."
    )


def _plainly(text: str) -> str:
    return "".join(text.split()).casefold()
