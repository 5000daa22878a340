"""Letters of a recall: one to each customer whose engine carries the part, from the records, printed on the press."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.utils import timezone

from builds.models import Customer, Engine, Recall, RecallLine, Shop
from builds.part_running import EnginesRunning
from builds.printing.press import to_pdf
from builds.recalling import ListedPart, listed

# As many as are printed within the press's time.
LETTERS_IN_A_FILE = 40
# Portrait: a letter, not a drawing.
PAGES = {"A4": "210mm 297mm", "Letter": "215.9mm 279.4mm"}
STYLE = ("css/letter.css",)


@dataclass(frozen=True)
class LetterEngine:
    """One engine in a letter, with its parts that are in it, and the day up to which its running is known."""

    engine: Engine
    parts: list[ListedPart]
    known_until: date | None


@dataclass(frozen=True)
class Letter:
    """What is printed on the letter to one customer."""

    customer: Customer
    engines: list[LetterEngine]

    @property
    def count(self) -> int:
        """How many of the parts are in the customer's engines."""
        return sum(part.trace.left for engine in self.engines for part in engine.parts)


def customers_of(recall: Recall) -> "QuerySet[Customer]":
    """Every customer with an engine on the list, by name."""
    engines = RecallLine.objects.filter(recall=recall).values("part__build__engine")
    return Customer.objects.filter(engines__in=engines).distinct().order_by("name", "pk")


def recall_letters(recall: Recall, customers: Iterable[Customer]) -> list[Letter]:
    """Letters to these customers; none to one whose engines carry the part no more. A constant number of questions."""
    people = list(customers)
    on_list = RecallLine.objects.filter(recall=recall).values("part__build__engine")
    rows = Engine.objects.filter(customer__in=people, pk__in=on_list).order_by("name", "pk")
    engines = listed(recall, [engine.pk for engine in rows])
    running = EnginesRunning([each.engine.pk for each in engines])
    of: dict[int, list[LetterEngine]] = {}
    for each in engines:
        if parts := [part for part in each.parts if part.trace.left]:
            line = LetterEngine(each.engine, parts, running.last_entry_on(each.engine.pk))
            of.setdefault(each.engine.customer_id, []).append(line)
    return [Letter(customer, of[customer.pk]) for customer in people if customer.pk in of]


def letters_html(recall: Recall, letters: list[Letter], paper: str) -> str:
    """The page for the press."""
    context = {
        "recall": recall, "letters": letters, "shop": Shop.get(), "today": timezone.localdate(), "page": PAGES[paper],
    }  # fmt: skip
    return render_to_string("sheets/recall_letters.html", context)


def letters_pdf(recall: Recall, letters: list[Letter], paper: str) -> bytes:
    """The letters as PDF. Raises `PrintingFailed` with a sentence."""
    return to_pdf(letters_html(recall, letters, paper), stylesheets=STYLE)
