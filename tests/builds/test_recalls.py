"""Recalls: begun from a trace, marked told, checked and replaced; marks in error; later matches; letters."""

import io
from collections.abc import Callable
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from builds.letters import letters_html, recall_letters
from builds.models import Customer, PartFitted, Person, Recall, RecallMark, Shop
from builds.parts_out import take_out
from builds.recalling import DEFAULT_ADVICE, MarkRefused, counts_of, listed, mark, strike_out
from tests.builds.part_scene import DAY, a_part, an_engine, ran

BEGIN = "/returns/recalls/new/?by=lot&q=K-42"


@pytest.fixture
def parts(db: None) -> list[PartFitted]:
    """Three engines with the lot, of which one has none of it left, and one with another lot."""
    found = [
        a_part(an_engine(number, phone=f"555 01{number:02}"), position=f"{number}E") for number in (1, 2, 3)
    ]
    a_part(an_engine(4), lot="other")
    return found


@pytest.fixture
def recall(parts: list[PartFitted], bench_client: Client) -> Recall:
    bench_client.post(BEGIN, begun())
    return Recall.objects.get()


def begun(**changed: str) -> dict[str, str]:
    sent = {
        "reason": "Roller pins may be soft.",
        "advice": "Do not start it.",
        "opened_on": str(timezone.localdate()),
    }
    return {**sent, "form_token": str(uuid4()), **changed}


def mark_page(recall: Recall, part: PartFitted) -> str:
    return reverse("recall-mark", args=[recall.pk, part.build.engine_id])


def marking(recall: Recall, part: PartFitted, step: str = "told", **changed: object) -> dict[str, object]:
    line = recall.lines.get(part=part)
    return {
        "client_id": str(uuid4()), "step": step, "lines": [str(line.pk)], "done_on": str(timezone.localdate()),
        "note": "", **changed,
    }  # fmt: skip


def test_a_recall_begins_with_a_careful_text_and_a_line_for_every_match(
    bench_client: Client, parts: list[PartFitted], builder: Person
) -> None:
    assert "Please do not start the engine" in bench_client.get(BEGIN).text
    assert "what it says comes first" in DEFAULT_ADVICE
    answer = bench_client.post(BEGIN, begun(), follow=True)
    made = Recall.objects.get()
    assert (made.by, made.value, made.opened_by) == ("lot", "K-42", builder)
    assert {line.part for line in made.lines.all()} == set(parts)
    assert "0 of 3" in answer.text


def test_a_form_sent_twice_begins_one_recall(bench_client: Client, parts: list[PartFitted]) -> None:
    sent = begun()
    for _ in range(2):
        bench_client.post(BEGIN, sent)
    assert Recall.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [({"reason": ""}, "nothing is filled in"), ({"opened_on": "2027-01-01"}, "is still to come")],
)
def test_a_recall_that_cannot_be_is_refused(
    bench_client: Client, parts: list[PartFitted], changed: dict[str, str], sentence: str
) -> None:
    answer = bench_client.post(BEGIN, begun(advice="stays here", **changed))
    assert (answer.status_code, sentence in answer.text, "stays here" in answer.text) == (422, True, True)
    assert not Recall.objects.exists()


@pytest.mark.parametrize("query", ["", "by=any&q=K-42", "by=lot&q=nothing", "by=lot&q=K%0942", "by=x&q=K-42"])
def test_a_recall_begins_from_a_number_that_was_traced(
    bench_client: Client, parts: list[PartFitted], query: str
) -> None:
    answer = bench_client.post(f"/returns/recalls/new/?{query}", begun(), follow=True)
    assert "Trace it first." in answer.text
    assert not Recall.objects.exists()


def test_told_checked_and_replaced_are_counted_by_engines(
    bench_client: Client, recall: Recall, parts: list[PartFitted], builder: Person
) -> None:
    take_out(parts[2], builder, quantity=16, out_on=DAY, why="failed")
    bench_client.post(mark_page(recall, parts[0]), marking(recall, parts[0], note="spoke to the crew chief"))
    bench_client.post(mark_page(recall, parts[1]), marking(recall, parts[1]))
    bench_client.post(mark_page(recall, parts[1]), marking(recall, parts[1], "checked"))
    assert counts_of([recall])[recall.pk].words == "told 2 of 2, checked 1 of 2, replaced 0 of 2"
    text = bench_client.get(reverse("recall", args=[recall.pk])).text
    assert "spoke to the crew chief" in text
    assert "out already: nothing to do" in text


def test_tables_of_parts_say_which_are_on_an_open_recall(
    bench_client: Client, recall: Recall, parts: list[PartFitted], builder: Person
) -> None:
    job = parts[0].build
    pages = (job.get_absolute_url(), reverse("engine-parts", args=[job.engine_id]))
    for page in pages:
        assert "On recall: lot K-42" in bench_client.get(page).text
    take_out(parts[0], builder, quantity=16, out_on=DAY, why="recalled")
    for page in pages:
        assert "On recall" not in bench_client.get(page).text
    other = parts[1].build.get_absolute_url()
    assert "On recall" in bench_client.get(other).text
    Recall.objects.update(closed_on=timezone.localdate())
    assert "On recall" not in bench_client.get(other).text


def test_replaced_takes_out_what_is_left(
    bench_client: Client, recall: Recall, parts: list[PartFitted], builder: Person
) -> None:
    take_out(parts[0], builder, quantity=3, out_on=DAY, why="failed")
    bench_client.post(mark_page(recall, parts[0]), marking(recall, parts[0], "replaced"))
    gone = parts[0].taken_out.get(why="recalled")
    assert (gone.quantity, gone.by_mark.step) == (13, "replaced")
    assert counts_of([recall])[recall.pk].words == "told 0 of 3, checked 0 of 3, replaced 1 of 3"


def test_replaced_is_marked_once_and_not_by_a_second_tablet(
    bench_client: Client, recall: Recall, parts: list[PartFitted], owner: Person
) -> None:
    first, second = marking(recall, parts[0], "replaced"), marking(recall, parts[0], "replaced")
    bench_client.post(mark_page(recall, parts[0]), first)
    answer = bench_client.post(mark_page(recall, parts[0]), second)
    assert (answer.status_code, "was marked as replaced already" in answer.text) == (422, True)
    strike_out(RecallMark.objects.get(), owner, why="another engine", client_id=uuid4())
    assert counts_of([recall])[recall.pk].replaced == 0
    bench_client.post(mark_page(recall, parts[0]), second)
    assert counts_of([recall])[recall.pk].replaced == 1


def test_what_is_still_in_does_not_count_as_replaced(
    recall: Recall, parts: list[PartFitted], builder: Person
) -> None:
    RecallMark.objects.create(line=recall.lines.get(part=parts[0]), step="replaced", by=builder)
    assert counts_of([recall])[recall.pk].replaced == 0
    (engine,) = listed(recall, [parts[0].build.engine_id])
    assert not engine.is_done("replaced")


def test_a_mark_sent_twice_is_one(bench_client: Client, recall: Recall, parts: list[PartFitted]) -> None:
    sent = marking(recall, parts[0], "replaced")
    for _ in range(2):
        assert bench_client.post(mark_page(recall, parts[0]), sent).status_code == 302
    assert (RecallMark.objects.count(), parts[0].taken_out.count()) == (1, 1)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"done_on": "2027-02-01"}, "is still to come"),
        ({"done_on": "2025-12-01"}, "01 Dec 2025 is before it was fitted"),
        ({"done_on": "x"}, "that is not a date"),
        ({"lines": []}, "nothing is ticked"),
        ({"lines": ["9999"]}, "not on the list of this engine any more"),
        ({"step": "sold"}, "What was done"),
        ({"client_id": "x"}, "This page is too old to save from"),
        ({"note": "n" * 201}, "there is room for 200"),
    ],
)
def test_a_mark_that_cannot_be_is_refused(
    bench_client: Client, recall: Recall, parts: list[PartFitted], changed: dict[str, object], sentence: str
) -> None:
    answer = bench_client.post(mark_page(recall, parts[0]), marking(recall, parts[0], **changed))
    assert (answer.status_code, sentence in answer.text) == (422, True)
    assert not RecallMark.objects.exists()


def test_a_mark_in_error_is_struck_out_with_a_reason_and_stays(
    bench_client: Client, recall: Recall, parts: list[PartFitted]
) -> None:
    bench_client.post(mark_page(recall, parts[0]), marking(recall, parts[0], "replaced"))
    made = RecallMark.objects.get()
    page = reverse("recall-strike", args=[recall.pk, made.pk])
    assert "nothing is filled in" in bench_client.post(page, {"client_id": str(uuid4()), "note": " "}).text
    sent = {"client_id": str(uuid4()), "note": "that was the other engine"}
    for _ in range(2):
        bench_client.post(page, sent)
    assert RecallMark.objects.count() == 2
    assert not parts[0].taken_out.exists()
    assert counts_of([recall])[recall.pk].replaced == 0
    text = bench_client.get(reverse("recall", args=[recall.pk])).text
    assert "<del>Replaced" in text
    assert "that was the other engine" in text


def test_a_mark_is_struck_out_once_and_its_striking_out_never(
    recall: Recall, parts: list[PartFitted], builder: Person
) -> None:
    line = recall.lines.get(part=parts[0])
    made = mark(
        recall, parts[0].build.engine, builder, lines=[line], step="told", done_on=timezone.localdate(), note="",
        client_id=uuid4(),
    )[0]  # fmt: skip
    struck = strike_out(made, builder, why="error", client_id=uuid4())
    with pytest.raises(MarkRefused, match="struck out already"):
        strike_out(made, builder, why="error", client_id=uuid4())
    with pytest.raises(MarkRefused, match="cannot be struck out"):
        strike_out(struck, builder, why="error", client_id=uuid4())


def test_what_carries_it_since_is_offered_and_added_once(
    bench_client: Client, recall: Recall, parts: list[PartFitted]
) -> None:
    page = reverse("recall", args=[recall.pk])
    assert "carry it since" not in bench_client.get(page).text
    for number in (8, 9):
        a_part(an_engine(number), lot="k-42")
    assert "2 more lines of the book carry it since." in bench_client.get(page).text
    for _ in range(2):
        bench_client.post(reverse("recall-add", args=[recall.pk]))
    assert recall.lines.count() == 5


def test_a_closed_recall_takes_no_marks_until_it_is_opened_again(
    bench_client: Client, recall: Recall, parts: list[PartFitted]
) -> None:
    close = reverse("recall-close", args=[recall.pk])
    assert "3 of these customers’ engines are not told yet" in bench_client.get(close).text
    assert "is before it was begun" in bench_client.post(close, {"closed_on": "2026-01-01"}).text
    bench_client.post(close, {"closed_on": str(timezone.localdate())})
    recall.refresh_from_db()
    assert recall.closed_on == timezone.localdate()
    answer = bench_client.post(mark_page(recall, parts[0]), marking(recall, parts[0]))
    assert (answer.status_code, "This recall was closed on" in answer.text) == (422, True)
    assert "closed" in bench_client.get(reverse("recall-list")).text
    bench_client.post(reverse("recall-reopen", args=[recall.pk]))
    assert bench_client.post(mark_page(recall, parts[0]), marking(recall, parts[0])).status_code == 302


def test_reason_and_advice_may_change_and_the_history_keeps_them(
    bench_client: Client, recall: Recall
) -> None:
    bench_client.post(
        reverse("recall-edit", args=[recall.pk]), {"reason": "Pins are soft.", "advice": "Stop."}
    )
    recall.refresh_from_db()
    assert (recall.reason, recall.history.count()) == ("Pins are soft.", 2)


@pytest.mark.parametrize(
    "name",
    [
        "recall-begin",
        "recall-edit",
        "recall-add",
        "recall-mark",
        "recall-strike",
        "recall-close",
        "recall-reopen",
    ],
)
def test_who_is_not_logged_in_changes_no_recall(
    stranger: Client, recall: Recall, parts: list[PartFitted], name: str
) -> None:
    more = {
        "recall-begin": [],
        "recall-mark": [recall.pk, parts[0].build.engine_id],
        "recall-strike": [recall.pk, 1],
    }
    address = reverse(name, args=more.get(name, [recall.pk]))
    assert stranger.post(address, begun()).url.startswith(reverse("login"))
    assert (Recall.objects.count(), RecallMark.objects.count()) == (1, 0)


def test_letters_say_what_the_records_say(recall: Recall, parts: list[PartFitted], builder: Person) -> None:
    Shop.get()
    Shop.objects.update(name="Quarry Road Engines", phone="555 0100")
    ran(parts[0].build, builder, 30, "40")
    html = letters_html(recall, recall_letters(recall, Customer.objects.all()), "A4")
    text = " ".join(html.split())
    for told in (
        "Quarry Road Engines", "Customer 001", "1 Quarry Road", "V8 no. 1<br>S-1", "rocker arm, 1E", "lot K-42",
        "40 passes", "Roller pins may be soft.", "Do not start it.", "come before this letter", "Name and signature",
    ):  # fmt: skip
        assert told in text
    assert "Customer 004" not in text


def test_no_letter_goes_to_a_customer_whose_engine_has_none_left(
    bench_client: Client, recall: Recall, parts: list[PartFitted], builder: Person
) -> None:
    take_out(parts[0], builder, quantity=16, out_on=DAY, why="failed")
    names = [letter.customer.name for letter in recall_letters(recall, Customer.objects.order_by("pk"))]
    assert names == ["Customer 002", "Customer 003"]
    answer = bench_client.get(reverse("recall-letter", args=[recall.pk, parts[0].build.engine.customer_id]))
    assert (answer.status_code, "There is no letter to print" in answer.text) == (404, True)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_letters_are_printed_one_page_for_each_customer(
    bench_client: Client, recall: Recall, paper: str
) -> None:
    recall.advice = DEFAULT_ADVICE
    recall.save()
    answer = bench_client.get(reverse("recall-letters", args=[recall.pk]), {"paper": paper})
    assert answer["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.content)).pages
    assert len(pages) == 3
    assert round(float(pages[0].mediabox.width)) == {"A4": 595, "Letter": 612}[paper]
    assert "Customer 002" in pages[1].extract_text()


def test_one_customers_letter_and_a_paper_that_is_not_there(
    bench_client: Client, recall: Recall, parts: list[PartFitted]
) -> None:
    one = reverse("recall-letter", args=[recall.pk, parts[1].build.engine.customer_id])
    assert len(PdfReader(io.BytesIO(bench_client.get(one).content)).pages) == 1
    answer = bench_client.get(one, {"paper": "napkin"})
    assert (answer.status_code, "There is no paper “napkin” here." in answer.text) == (400, True)


def test_hostile_text_stays_text_in_letters_and_lists(bench_client: Client, recall: Recall) -> None:
    bad = "<script>alert(1)</script>{{ 7 }}"
    Recall.objects.update(reason=bad, advice=bad)
    recall.refresh_from_db()
    html = letters_html(recall, recall_letters(recall, Customer.objects.all()), "A4")
    for text in (html, bench_client.get(reverse("recall", args=[recall.pk])).text):
        assert "<script>alert" not in text
        assert "&lt;script&gt;alert(1)" in text


def test_a_recall_asks_a_constant_number_of_questions(
    bench_client: Client, recall: Recall, builder: Person, queries: Callable[[Client, str], int]
) -> None:
    pages = [reverse("recall", args=[recall.pk]), reverse("recall-list")]
    few = [queries(bench_client, page) for page in pages]
    for number in range(10, 50):
        a_part(an_engine(number))
    bench_client.post(reverse("recall-add", args=[recall.pk]))
    for line in recall.lines.all():
        RecallMark.objects.create(line=line, step="told", by=builder)
    for number in range(30):
        Recall.objects.create(by="lot", value=f"N{number}", reason="x", advice="y", opened_by=builder)
    assert [queries(bench_client, page) for page in pages] == [few[0], few[1]]


def test_an_engine_is_told_when_all_its_parts_are(
    recall: Recall, parts: list[PartFitted], builder: Person
) -> None:
    second = a_part(parts[0].build, role="rocker stand")
    recall.lines.create(part=second)
    RecallMark.objects.create(line=recall.lines.get(part=second), step="told", by=builder)
    engine = listed(recall, [second.build.engine_id])[0]
    assert not engine.is_done("told")
    RecallMark.objects.create(line=recall.lines.get(part=parts[0]), step="told", by=builder)
    assert listed(recall, [second.build.engine_id])[0].is_done("told")
