"""Parts that come out of their engine, and others that take their place; numbers with odd signs."""

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import Build, PartFitted, PartTakenOut, Person, Recall, RecallLine, RecallMark
from builds.parts_out import PartRefused, take_out
from tests.builds.part_scene import DAY, a_part, a_rebuild, an_engine
from tests.scenes import make_scene


@pytest.fixture
def out(db: None) -> Build:
    return an_engine(1, phone="555 0101")


@pytest.fixture
def arms(out: Build) -> PartFitted:
    return a_part(out)


def taking(**changed: str) -> dict[str, str]:
    """What the form of a part that came out sends."""
    return {"quantity": "1", "out_on": "2026-03-01", "why": "failed", "form_token": str(uuid4()), **changed}


def page(part: PartFitted) -> str:
    return reverse("part-out", args=[part.build_id, part.pk])


def test_a_part_comes_out_of_an_engine_whose_log_is_closed(
    bench_client: Client, arms: PartFitted, builder: Person
) -> None:
    bench_client.post(page(arms), taking(position="5E", note="roller pin"))
    gone = arms.taken_out.get()
    assert (gone.quantity, gone.why, gone.position, gone.noted_by) == (1, "failed", "5E", builder)
    assert "15<br><small>of 16" in bench_client.get(arms.build.get_absolute_url()).text


def test_a_form_sent_twice_takes_out_once(bench_client: Client, arms: PartFitted) -> None:
    sent = taking()
    for _ in range(2):
        bench_client.post(page(arms), sent)
    assert arms.taken_out.count() == 1


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"quantity": "17"}, "17 cannot come out: 16 of 16 are still in. Type 16 or fewer."),
        ({"quantity": "0"}, "How many: type a whole number, 1 or more."),
        ({"out_on": "2026-01-04"}, "04 Jan 2026 is before it was fitted, 05 Jan 2026."),
        ({"out_on": "2027-02-01"}, "is still to come"),
        ({"out_on": "soon"}, "that is not a date"),
        ({"why": "fate"}, "Why: "),
        ({"in_job": "9999"}, "that job is not of this engine"),
        ({"position": "5\u200bE"}, "there is a space of no width in it"),
    ],
)
def test_what_cannot_have_come_out_is_refused_and_the_text_stays(
    bench_client: Client, arms: PartFitted, changed: dict[str, str], sentence: str
) -> None:
    answer = bench_client.post(page(arms), taking(note="as typed", **changed))
    assert answer.status_code == 422
    assert sentence in answer.text
    assert 'value="as typed"' in answer.text
    assert not arms.taken_out.exists()


def test_never_more_come_out_than_are_left(arms: PartFitted, builder: Person) -> None:
    take_out(arms, builder, quantity=15, out_on=DAY, why="worn")
    with pytest.raises(PartRefused, match=r"2 cannot come out: 1 of 16 is still in\. Type 1 or fewer"):
        take_out(arms, builder, quantity=2, out_on=DAY, why="worn")
    take_out(arms, builder, quantity=1, out_on=DAY, why="worn")
    with pytest.raises(PartRefused, match="all of it came out before"):
        take_out(arms, builder, quantity=1, out_on=DAY, why="worn")


def test_one_valve_s_part_of_a_line_comes_out_once(arms: PartFitted, builder: Person) -> None:
    take_out(arms, builder, quantity=1, out_on=DAY, why="failed", position="6E")
    with pytest.raises(PartRefused, match="6E of this rocker arm came out on 05 Jan 2026 already"):
        take_out(arms, builder, quantity=1, out_on=DAY, why="failed", position=" 6 e")
    take_out(arms, builder, quantity=2, out_on=DAY, why="worn", position="left bank")
    take_out(arms, builder, quantity=1, out_on=DAY, why="worn", position="left bank")
    assert arms.taken_out.count() == 3


def test_a_part_comes_out_of_no_valve_that_the_job_has_not(builder: Person) -> None:
    built = make_scene(builder).build
    arm = PartFitted.objects.create(build=built, role="rocker arm", quantity=16, fitted_on=DAY)
    with pytest.raises(PartRefused, match="There is no “99E” on job"):
        take_out(arm, builder, quantity=1, out_on=DAY, why="failed", position="99E")
    take_out(arm, builder, quantity=1, out_on=DAY, why="failed", position="5E")


def test_a_job_of_another_engine_took_nothing_out(arms: PartFitted, builder: Person) -> None:
    with pytest.raises(PartRefused, match="Job 25-002 is on another engine"):
        take_out(arms, builder, quantity=1, out_on=DAY, why="worn", in_job=an_engine(2))


def test_an_error_is_taken_back_and_the_history_keeps_it(
    bench_client: Client, arms: PartFitted, builder: Person
) -> None:
    gone = take_out(arms, builder, quantity=3, out_on=DAY, why="worn")
    undo = reverse("part-out-undo", args=[arms.build_id, arms.pk, gone.pk])
    assert "3 came out" in bench_client.get(undo).text
    assert arms.taken_out.exists()
    bench_client.post(undo)
    assert not arms.taken_out.exists()
    assert [row.history_type for row in PartTakenOut.history.filter(id=gone.pk)] == ["-", "+"]


@pytest.mark.parametrize("name", ["part-out", "part-out-undo"])
def test_who_is_not_logged_in_takes_nothing_out(
    stranger: Client, arms: PartFitted, builder: Person, name: str
) -> None:
    gone = take_out(arms, builder, quantity=1, out_on=DAY, why="worn")
    args = [arms.build_id, arms.pk] + ([gone.pk] if name == "part-out-undo" else [])
    assert stranger.post(reverse(name, args=args), taking()).url.startswith(reverse("login"))
    assert arms.taken_out.count() == 1


def test_a_new_part_takes_the_place_of_one_that_is_in(bench_client: Client, arms: PartFitted) -> None:
    job = a_rebuild(arms.build, "26-040", 80)
    new = reverse("part-new", args=[job.pk])
    form = bench_client.get(f"{new}?instead_of={arms.pk}").text
    assert 'value="rocker arm"' in form
    assert "rocker arm, K-42, 16 in, job 25-001" in form
    sent = {"role": "Rocker arm", "quantity": "4", "fitted_on": "2026-04-01", "instead_of": str(arms.pk)}
    bench_client.post(new, sent)
    gone = arms.taken_out.get()
    assert (gone.quantity, gone.why, gone.in_job, str(gone.out_on)) == (4, "replaced", job, "2026-04-01")
    assert job.parts.get().quantity == 4


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"role": "pushrod"}, "A pushrod does not take the place of a rocker arm."),
        ({"quantity": "20"}, "20 cannot come out: 16 of 16 are still in."),
        ({"fitted_on": "2025-12-31"}, "is before it was fitted"),
    ],
)
def test_what_cannot_take_its_place_leaves_both_as_they_are(
    bench_client: Client, arms: PartFitted, changed: dict[str, str], sentence: str
) -> None:
    job = a_rebuild(arms.build, "26-040", 80)
    sent = {"role": "rocker arm", "quantity": "4", "fitted_on": "2026-04-01", "instead_of": str(arms.pk)}
    answer = bench_client.post(reverse("part-new", args=[job.pk]), sent | changed)
    assert (answer.status_code, sentence in answer.text) == (422, True)
    assert (job.parts.count(), arms.taken_out.count()) == (0, 0)


def test_a_part_of_another_engine_is_not_offered(bench_client: Client, arms: PartFitted, job: Build) -> None:
    assert "takes the place of" not in bench_client.get(reverse("part-new", args=[job.pk])).text.casefold()
    sent = {"role": "rocker arm", "quantity": "4", "fitted_on": "2026-04-01", "instead_of": str(arms.pk)}
    bench_client.post(reverse("part-new", args=[job.pk]), sent)
    assert not arms.taken_out.exists()


@pytest.mark.parametrize(
    ("text", "called"),
    [
        ("K\t42", "a tab"),
        ("K\r\n42", "a line end"),
        ("K\u200b42", "a space of no width"),
        ("K\u202e42", "an invisible mark"),
        ("K\u00a042", "a space that does not break"),
        ("K\x0742", "a control character"),
    ],
)
@pytest.mark.parametrize("name", ["lot", "serial", "maker_number"])
def test_signs_that_nobody_sees_are_refused(
    bench_client: Client, job: Build, name: str, text: str, called: str
) -> None:
    sent = {"role": "pushrod", "quantity": "1", "fitted_on": "2026-01-06", "note": "stays", name: text}
    answer = bench_client.post(reverse("part-new", args=[job.pk]), sent)
    assert answer.status_code == 422
    assert f"there is {called} in it, which nobody sees" in answer.text
    assert 'value="stays"' in answer.text
    assert not job.parts.exists()


@pytest.mark.parametrize("text", ["100%", "a_b", "Ü-7/ß", "“B”", "O'H\"x", "<b>&1", "ЖД-9", "\\n"])
def test_odd_but_visible_signs_are_kept_and_found_literally(
    bench_client: Client, job: Build, text: str
) -> None:
    sent = {"role": "pushrod", "quantity": "1", "fitted_on": "2026-01-06", "lot": f"  {text} "}
    bench_client.post(reverse("part-new", args=[job.pk]), sent)
    PartFitted.objects.create(build=job, role="decoy", lot="100x")
    PartFitted.objects.create(build=job, role="decoy", lot="axb")
    assert job.parts.get(role="pushrod").lot == text
    answer = bench_client.get(reverse("part-trace"), {"by": "lot", "q": text})
    assert [line.part.role for line in answer.context["lines"]] == ["pushrod"]


def test_a_part_that_something_leans_on_stays_on_its_list(
    bench_client: Client, job: Build, builder: Person
) -> None:
    part = a_part(job)
    take_out(part, builder, quantity=1, out_on=DAY, why="failed")
    answer = bench_client.post(reverse("part-remove", args=[job.pk, part.pk]), follow=True)
    assert "it came out again, which the book keeps, so it stays" in answer.text
    assert job.parts.exists()


def test_what_came_out_was_fitted_before_and_in_such_a_number(
    bench_client: Client, job: Build, builder: Person
) -> None:
    part = a_part(job)
    take_out(part, builder, quantity=9, out_on=DAY + timedelta(days=3), why="failed")
    edit = reverse("part-edit", args=[job.pk, part.pk])
    sent = {"role": "rocker arm", "quantity": "8", "fitted_on": "2026-01-09"}
    text = bench_client.post(edit, sent).text
    assert "9 of them came out again, so it was 9 or more" in text
    assert "it came out again on 08 Jan 2026" in text


def test_the_parts_of_an_engine_from_all_its_jobs(
    bench_client: Client, arms: PartFitted, builder: Person
) -> None:
    job = a_rebuild(arms.build, "26-040", 80)
    take_out(
        arms, builder, quantity=2, out_on=DAY + timedelta(days=60), why="failed", in_job=job, note="pins"
    )
    text = bench_client.get(reverse("engine-parts", args=[job.engine_id]), {"job": job.pk}).text
    assert "2 out 6 Mar 2026: failed, job 26-040. pins" in " ".join(text.split())
    assert f"?instead_of={arms.pk}" in text


@pytest.mark.parametrize("many", [3, 60])
def test_tables_of_parts_ask_a_constant_number_of_questions(
    bench_client: Client, arms: PartFitted, builder: Person, queries: Callable[[Client, str], int], many: int
) -> None:
    asked = {}
    for name, url in (
        ("job", arms.build.get_absolute_url()),
        ("engine", reverse("engine-parts", args=[arms.build.engine_id])),
    ):
        asked[name] = queries(bench_client, url)
    for number in range(many):
        part = a_part(arms.build, role=f"part {number}")
        take_out(part, builder, quantity=1, out_on=DAY, why="failed", in_job=arms.build)
    assert queries(bench_client, arms.build.get_absolute_url()) <= asked["job"] + 1
    assert queries(bench_client, reverse("engine-parts", args=[arms.build.engine_id])) <= asked["engine"] + 1


def test_what_a_recall_took_out_is_put_back_on_the_recall(
    bench_client: Client, arms: PartFitted, builder: Person
) -> None:
    recall = Recall.objects.create(by="lot", value="K-42", reason="soft", advice="stop", opened_by=builder)
    line = RecallLine.objects.create(recall=recall, part=arms)
    mark = RecallMark.objects.create(line=line, step="replaced", by=builder)
    gone = take_out(arms, builder, quantity=16, out_on=timezone.localdate(), why="recalled", by_mark=mark)
    undo = reverse("part-out-undo", args=[arms.build_id, arms.pk, gone.pk])
    assert "Strike out that mark, there." in bench_client.post(undo, follow=True).text
    assert arms.taken_out.exists()
