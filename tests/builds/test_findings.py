"""Findings: written once, where the job has such a place, with photos, evidence and what was looked at; never removed."""

from collections.abc import Callable
from datetime import date
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.findings import (
    Backing,
    Told,
    add_evidence,
    add_finding,
    add_photo,
    answer_prompt,
    change_finding,
    findings_of,
    prompt_lines,
    take_back,
)
from builds.looks import open_return
from builds.models import (
    Build,
    CausePrompt,
    Evidence,
    Finding,
    FindingPhoto,
    PartFitted,
    Person,
    Photo,
    PhotoFiling,
    PromptLook,
    Reading,
    Symptom,
)
from builds.recording import EntryRefused

pytestmark = pytest.mark.django_db

HOSTILE = '<script>alert("1")</script>{{ 7|add:7 }}'


@pytest.fixture
def came(closed_job: Build, builder: Person) -> Build:
    """The job that reads the engine as it was found."""
    return open_return(
        closed_job, builder, came_back_on=date(2026, 3, 1), complaint="noise on the left bank"
    ).build


@pytest.fixture
def finding(came: Build, builder: Person) -> Finding:
    """A bent pushrod, with a list to look through."""
    told = Told("pushrod bent", "bent", "cyl5", symptom=Symptom.objects.get(name="bent pushrod"))
    return add_finding(came, builder, told)[0]


@pytest.fixture
def office_client() -> Client:
    client = Client()
    client.force_login(Person.objects.create_user("office", name="Office", role="office", password="x"))
    return client


def photo_of(job: Build, person: Person, position: str = "") -> Photo:
    """A photo as the book has it; there is no file behind it."""
    photo = Photo.objects.create(
        build=job, name="arm.jpg", media_type="image/jpeg", size=1, sha256="a" * 64, sent_sha256="b" * 64, width=40,
        height=30, path=f"{uuid4()}.jpg", taken_by=person,
    )  # fmt: skip
    PhotoFiling.objects.create(photo=photo, position=position, kind="damage", filed_by=person)
    return photo


def reading_of(job: Build, person: Person, position: str = "cyl5", text: str = "4.0012") -> Reading:
    return Reading.objects.create(
        build=job,
        position=position,
        characteristic="bore_diameter",
        text=text,
        unit="in",
        value=text,
        taken_by=person,
    )


def typed(**changes: str) -> dict[str, str]:
    """A filled-in form."""
    return {
        "form_token": str(uuid4()), "what": "pushrod bent", "position": "cyl5", "place_words": "", "condition": "bent",
        "detail": "", "cause": "", "confidence": "", "action": "", "symptom": "", **changes,
    }  # fmt: skip


def new(client: Client, job: Build, **changes: str) -> Any:
    return client.post(reverse("finding-new", args=[job.pk]), typed(**changes))


def test_a_finding_is_written_down_and_leads_to_its_page(bench_client: Client, came: Build) -> None:
    answer = new(bench_client, came, cause="valve stuck in its guide", confidence="possible")
    found = Finding.objects.get()
    assert (answer.status_code, answer.url) == (302, found.get_absolute_url())
    assert (found.build, found.position, found.found_by.username) == (came, "cyl5", "nora")


def test_the_same_form_sent_twice_makes_one_finding(bench_client: Client, came: Build) -> None:
    token = str(uuid4())
    assert [new(bench_client, came, form_token=token).status_code for _ in range(2)] == [302, 302]
    assert Finding.objects.count() == 1


# Hand-worked: what is typed, what is kept.
@pytest.mark.parametrize(
    ("position", "words", "kept"),
    [("CYL5", "", "cyl5"), (" cyl 5 ", "", "cyl5"), ("", "oil  pan", "oil pan"), ("", "Engine", "engine"), ("", "", "")],
)  # fmt: skip
def test_a_place_is_kept_as_it_is_chalked_or_in_words(
    bench_client: Client, came: Build, position: str, words: str, kept: str
) -> None:
    new(bench_client, came, position=position, place_words=words)
    assert Finding.objects.get().position == kept


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"position": "cyl9"}, "There is no “cyl9” on job"),
        ({"position": "cyl9"}, "cyl8"),
        ({"position": "oil pan"}, "write what has no address as a place in words"),
        ({"position": "cyl5", "place_words": "oil pan"}, "Keep one of them"),
        ({"confidence": "likely"}, "“likely” stands there without a probable cause"),
        ({"cause": "it broke"}, "not how sure it is"),
        ({"confidence": "certain"}, "Choose one from the list"),
        ({"condition": ""}, "Condition"),
        ({"condition": "melted"}, "Choose one from the list"),
        ({"what": "  "}, "What was found"),
        ({"what": "x" * 161}, "there is room for 160"),
        ({"place_words": "x" * 41, "position": ""}, "there is room for 40"),
        ({"symptom": "99999"}, "Choose one from the list"),
        ({"form_token": "x"}, "too old to save from"),
    ],
)
def test_what_does_not_fit_gets_a_sentence_and_stays_in_the_form(
    bench_client: Client, came: Build, changes: dict[str, str], sentence: str
) -> None:
    answer = new(bench_client, came, **{"detail": "what I typed", **changes})
    assert (answer.status_code, Finding.objects.count()) == (422, 0)
    assert sentence in answer.text
    assert "what I typed" in answer.text


def test_hostile_text_is_shown_as_text(bench_client: Client, came: Build) -> None:
    new(bench_client, came, what=HOSTILE, detail=HOSTILE, cause=HOSTILE, confidence="sure", action=HOSTILE,
        position="", place_words="<b>pan</b>")  # fmt: skip
    found = Finding.objects.get()
    for address in (
        found.get_absolute_url(),
        reverse("finding-list", args=[came.pk]),
        reverse("finding-edit", args=[found.pk]),
    ):
        text = bench_client.get(address).text
        assert "<script>alert" not in text
        assert "<b>pan</b>" not in text
        assert "alert(&quot;1&quot;)" in text or "alert(&#x27;1" in text


def test_a_place_given_in_the_address_stands_in_the_field(bench_client: Client, came: Build) -> None:
    text = bench_client.get(reverse("finding-new", args=[came.pk]), {"at": "main3"}).text
    assert 'value="main3"' in text
    assert (
        'data-address="main3" data-name="main bearing 3" aria-label="main3, main bearing 3" aria-current="true"'
        in text
    )


def test_a_place_in_words_comes_back_into_its_own_field(
    bench_client: Client, came: Build, builder: Person
) -> None:
    found = add_finding(came, builder, Told("filings", "other", place_words="oil pan"))[0]
    form = bench_client.get(reverse("finding-edit", args=[found.pk])).context["form"]
    assert (form["position"].value(), form["place_words"].value()) == ("", "oil pan")


def test_a_change_is_kept_with_what_stood_there_before(bench_client: Client, finding: Finding) -> None:
    answer = bench_client.post(
        reverse("finding-edit", args=[finding.pk]), typed(what="pushrod broken", condition="broken")
    )
    assert answer.status_code == 302
    changes = bench_client.get(reverse("job-changes", args=[finding.build_id])).text
    assert "pushrod bent" in changes
    assert "pushrod broken" in changes


def test_two_at_one_finding_write_nothing_over_that_they_did_not_see(
    bench_client: Client, owner_client: Client, finding: Finding
) -> None:
    address = reverse("finding-edit", args=[finding.pk])
    seen = str(bench_client.get(address).context["form"]["seen"].value())
    as_it_was = {
        "position": finding.position, "detail": finding.detail, "cause": finding.cause,
        "confidence": finding.confidence, "action": finding.action, "symptom": finding.symptom_id or "",
    }  # fmt: skip
    theirs = typed(**as_it_was | {"action": "Pushrod out.", "seen": seen})
    assert owner_client.post(address, theirs).status_code == 302
    # Another field: both stand.
    mine = typed(**as_it_was | {"detail": "by an eighth", "seen": seen})
    assert bench_client.post(address, mine).status_code == 302
    finding.refresh_from_db()
    assert (finding.action, finding.detail) == ("Pushrod out.", "by an eighth")
    # The same field: said once, with what stands there now, and what was typed stays.
    mine = typed(**as_it_was | {"detail": "by an eighth", "action": "All pushrods out.", "seen": seen})
    answer = bench_client.post(address, mine)
    assert answer.status_code == 422
    assert "wrote “Pushrod out.” here after you had opened this page" in answer.text
    assert "All pushrods out." in answer.text
    again = mine | {"seen": str(answer.context["form"]["seen"].value())}
    # Sent twice, as by a double tap.
    assert [bench_client.post(address, again).status_code for _ in range(2)] == [302, 302]
    finding.refresh_from_db()
    assert (finding.action, finding.detail) == ("All pushrods out.", "by an eighth")


def test_a_job_that_went_out_takes_no_finding(
    bench_client: Client, closed_job: Build, builder: Person
) -> None:
    assert new(bench_client, closed_job).status_code == 403
    with pytest.raises(EntryRefused, match="its log is closed"):
        add_finding(closed_job, builder, Told("pushrod bent", "bent"))


def test_findings_are_written_on_any_job_that_is_open(bench_client: Client, job: Build) -> None:
    assert new(bench_client, job).status_code == 302


def test_one_taken_back_stays_on_the_list_with_the_reason_and_takes_nothing_more(
    bench_client: Client, finding: Finding, builder: Person
) -> None:
    address = reverse("finding-take-back", args=[finding.pk])
    sent = {"form_token": str(uuid4()), "reason": "the wrong valve"}
    assert [bench_client.post(address, sent).status_code for _ in range(2)] == [302, 302]
    listed = bench_client.get(reverse("finding-list", args=[finding.build_id])).text
    assert "<del>pushrod bent</del>" in listed
    assert "taken back: the wrong valve" in listed
    with pytest.raises(EntryRefused, match="taken back: the wrong valve"):
        add_evidence(finding, builder, side="for", text="bright line")
    assert bench_client.get(reverse("finding-edit", args=[finding.pk])).status_code == 403


def test_nothing_is_taken_back_without_a_reason(bench_client: Client, finding: Finding) -> None:
    answer = bench_client.post(
        reverse("finding-take-back", args=[finding.pk]), {"form_token": str(uuid4()), "reason": " "}
    )
    assert (answer.status_code, Finding.objects.get().withdrawn) == (422, "")


def test_another_reason_does_not_write_over_the_first(finding: Finding) -> None:
    take_back(finding, "the wrong valve")
    with pytest.raises(EntryRefused, match="the wrong valve"):
        take_back(finding, "another reason")


# ---- photos -----------------------------------------------------------------------------------------------------------


def test_a_photo_of_the_job_is_put_to_a_finding_once_and_taken_off(
    bench_client: Client, finding: Finding, builder: Person
) -> None:
    photo = photo_of(finding.build, builder, "cyl5")
    address = reverse("finding-photos", args=[finding.pk])
    for _ in range(2):
        assert bench_client.post(address, {"client_id": photo.client_id}).status_code == 302
    assert FindingPhoto.objects.count() == 1
    assert "arm.jpg" in bench_client.get(finding.get_absolute_url()).text
    for _ in range(2):
        bench_client.post(reverse("finding-photo-remove", args=[finding.pk]), {"client_id": photo.client_id})
    assert (FindingPhoto.objects.count(), Photo.objects.count()) == (0, 1)


def test_the_tablet_gets_the_photos_as_they_are_then(
    bench_client: Client, finding: Finding, builder: Person
) -> None:
    photo = photo_of(finding.build, builder)
    answer = bench_client.post(
        reverse("finding-photos", args=[finding.pk]),
        {"client_id": photo.client_id},
        headers={"hx-request": "true"},
    )
    assert f"/photos/{photo.client_id}/thumb" in answer.text


def test_a_photo_of_another_job_is_refused(
    bench_client: Client, finding: Finding, job: Build, builder: Person
) -> None:
    photo = photo_of(job, builder)
    answer = bench_client.post(
        reverse("finding-photos", args=[finding.pk]),
        {"client_id": photo.client_id},
        headers={"hx-request": "true"},
    )
    assert answer.status_code == 422
    assert "belongs to another job than" in answer.json()["sentence"]


def test_a_photo_set_aside_is_refused(finding: Finding, builder: Person) -> None:
    photo = photo_of(finding.build, builder)
    PhotoFiling.objects.create(photo=photo, set_aside=True, reason="blurred", filed_by=builder)
    with pytest.raises(EntryRefused, match="is set aside: blurred"):
        add_photo(finding, photo)


# ---- evidence ---------------------------------------------------------------------------------------------------------


def test_readings_of_this_job_and_the_one_before_are_offered_at_the_address_newest_first(
    bench_client: Client, finding: Finding, builder: Person, job: Build
) -> None:
    before = reading_of(finding.build.follows, builder)
    now = reading_of(finding.build, builder, text="4.0031")
    reading_of(finding.build, builder, position="cyl4")
    reading_of(job, builder)
    address = reverse("finding-choose", args=[finding.pk, "reading"])
    answer = bench_client.get(address)
    assert list(answer.context["page_obj"]) == [now, before]
    assert [row.of_time for row in answer.context["page_obj"]] == ["as found", "when it left"]
    assert [each.position for each in bench_client.get(address, {"q": "cyl4"}).context["page_obj"]] == [
        "cyl4"
    ]
    assert len(bench_client.get(address, {"at": "any"}).context["page_obj"]) == 3


def test_a_finding_at_a_place_in_words_chooses_among_all_addresses(
    bench_client: Client, finding: Finding, builder: Person
) -> None:
    read = reading_of(finding.build, builder)
    Finding.objects.filter(pk=finding.pk).update(position="oil pan")
    answer = bench_client.get(reverse("finding-choose", args=[finding.pk, "reading"]))
    assert list(answer.context["page_obj"]) == [read]
    assert "at oil pan" not in answer.text


def test_a_reading_is_found_by_the_words_of_what_was_measured(
    bench_client: Client, finding: Finding, builder: Person
) -> None:
    found = Reading.objects.create(
        build=finding.build, position="cyl2", characteristic="net_lift", text="0.7", unit="in", value="0.7",
        taken_by=builder,
    )  # fmt: skip
    address = reverse("finding-choose", args=[finding.pk, "reading"])
    assert list(bench_client.get(address, {"q": "Net lift"}).context["page_obj"]) == [found]


def evidence(client: Client, finding: Finding, **changes: Any) -> Any:
    data = {
        "form_token": str(uuid4()),
        "side": "for",
        "text": "bore is worn",
        "reading": "",
        "photo": "",
        "part": "",
    }
    return client.post(reverse("finding-evidence-new", args=[finding.pk]), data | changes)


def test_evidence_leans_on_a_reading_and_says_when_that_was_corrected_since(
    bench_client: Client, finding: Finding, builder: Person
) -> None:
    reading = reading_of(finding.build, builder)
    token = str(uuid4())
    for _ in range(2):
        assert evidence(bench_client, finding, reading=reading.pk, form_token=token).status_code == 302
    assert Evidence.objects.get().reading == reading
    Reading.objects.create(
        build=finding.build, position="cyl5", characteristic="bore_diameter", text="4.0021", unit="in", value="4.0021",
        taken_by=builder, corrects=reading, reason="typed wrong",
    )  # fmt: skip
    assert "corrected since: 4.0021 in" in bench_client.get(finding.get_absolute_url()).text


def test_a_reading_of_the_return_that_was_taken_after_work_is_not_told_as_found(
    bench_client: Client, finding: Finding, builder: Person
) -> None:
    reading = Reading.objects.create(
        build=finding.build, position="cyl5", characteristic="bore", text="4.0012", unit="in", value="4.0012",
        taken_by=builder, context={"set": 1},
    )  # fmt: skip
    evidence(bench_client, finding, reading=reading.pk)
    told = bench_client.get(finding.get_absolute_url()).text
    assert f"after work on it, job {finding.build}" in told
    assert f"as found, job {finding.build}" not in told


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"side": ""}, "Side"),
        ({"side": "perhaps"}, "Choose one from the list"),
        ({"text": " "}, "What it says"),
        ({"text": "x" * 201}, "there is room for 200"),
        ({"reading": "99999"}, "The reading that was chosen is neither of this job nor of the one before"),
        ({"photo": "x"}, "The photo that was chosen is neither"),
    ],
)
def test_evidence_that_does_not_fit_gets_a_sentence(
    bench_client: Client, finding: Finding, changes: dict[str, str], sentence: str
) -> None:
    answer = evidence(bench_client, finding, **changes)
    assert (answer.status_code, Evidence.objects.count()) == (422, 0)
    assert sentence in answer.text


def test_evidence_of_another_job_is_refused(
    bench_client: Client, finding: Finding, job: Build, builder: Person
) -> None:
    part = PartFitted.objects.create(build=job, role="pushrod")
    assert "neither of this job" in evidence(bench_client, finding, part=part.pk).text
    with pytest.raises(EntryRefused, match="is of another job"):
        add_evidence(finding, builder, side="for", text="same lot", backing=Backing(part=part))


def test_one_piece_leans_on_one_thing(bench_client: Client, finding: Finding, builder: Person) -> None:
    part = PartFitted.objects.create(build=finding.build.follows, role="pushrod")
    answer = evidence(bench_client, finding, part=part.pk, reading=reading_of(finding.build, builder).pk)
    assert "leans on one thing" in answer.text


def test_evidence_is_taken_off_once(bench_client: Client, finding: Finding, builder: Person) -> None:
    made, _new = add_evidence(finding, builder, side="against", text="the guide is free")
    address = reverse("finding-evidence-remove", args=[finding.pk, made.pk])
    assert [bench_client.post(address).status_code for _ in range(2)] == [302, 302]
    assert Evidence.objects.count() == 0


def test_only_readings_photos_and_parts_are_chosen(bench_client: Client, finding: Finding) -> None:
    for kind in ("photo", "part"):
        assert bench_client.get(reverse("finding-choose", args=[finding.pk, kind])).status_code == 200
    assert bench_client.get(reverse("finding-choose", args=[finding.pk, "rumour"])).status_code == 404


# ---- the list to look through ----------------------------------------------------------------------------------------


def test_a_prompt_is_answered_answered_anew_and_left_again(bench_client: Client, finding: Finding) -> None:
    text = prompt_lines(finding)[0].text
    address = reverse("finding-look", args=[finding.pk])
    for answer, note in (("seen", ""), ("seen", ""), ("not-so", "guide is free")):
        assert bench_client.post(address, {"text": text, "answer": answer, "note": note}).status_code == 302
    look = PromptLook.objects.get()
    assert (look.text, look.answer, look.note, look.looked_by.username) == (
        text,
        "not-so",
        "guide is free",
        "nora",
    )
    bench_client.post(address, {"text": text, "answer": "", "note": ""})
    assert PromptLook.objects.count() == 0


def test_the_tablet_gets_the_list_as_it_is_then(bench_client: Client, finding: Finding) -> None:
    text = prompt_lines(finding)[0].text
    answer = bench_client.post(
        reverse("finding-look", args=[finding.pk]),
        {"text": text, "answer": "seen"},
        headers={"hx-request": "true"},
    )
    assert 'value="seen" aria-pressed="true"' in answer.text
    assert "<html" not in answer.text


@pytest.mark.parametrize("htmx", [{}, {"hx-request": "true"}])
@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"answer": "perhaps"}, "Choose “it is so”"),
        ({"text": "Is it Tuesday?"}, "changed in the shop’s list meanwhile"),
        ({"note": "n" * 201}, "The note has 201 characters"),
    ],
)
def test_an_answer_that_does_not_fit_gets_a_sentence(
    bench_client: Client, finding: Finding, changes: dict[str, str], sentence: str, htmx: dict[str, str]
) -> None:
    sent = {"text": prompt_lines(finding)[0].text, "answer": "seen", "note": "", **changes}
    answer = bench_client.post(reverse("finding-look", args=[finding.pk]), sent, headers=htmx)
    assert answer.status_code == (200 if htmx else 422)
    assert sentence in answer.text
    assert PromptLook.objects.count() == 0


def test_what_was_answered_keeps_the_words_it_was_asked_in(finding: Finding, builder: Person) -> None:
    text = prompt_lines(finding)[0].text
    answer_prompt(finding, builder, text=text, answer="seen")
    CausePrompt.objects.filter(text=text).update(text="Asked otherwise now?")
    lines = prompt_lines(findings_of(finding.build)[0])
    assert lines[0].look is None
    assert (lines[-1].text, lines[-1].asked_now) == (text, False)


def test_the_screens_say_that_nothing_here_is_a_diagnosis(bench_client: Client, finding: Finding) -> None:
    for address in (
        finding.get_absolute_url(), reverse("finding-new", args=[finding.build_id]), reverse("symptom-list"),
        reverse("finding-list", args=[finding.build_id]),
    ):  # fmt: skip
        text = bench_client.get(address).text
        assert "never a diagnosis" in text
        assert "a qualified engine builder decides" in text


# ---- who may, and how often the book is asked ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "extra"),
    [
        ("finding-edit", []), ("finding-take-back", []), ("finding-look", []), ("finding-photos", []),
        ("finding-photo-remove", []), ("finding-evidence-new", []), ("finding-evidence-remove", [1]),
    ],
)  # fmt: skip
def test_the_office_reads_findings_and_writes_none(
    office_client: Client, finding: Finding, name: str, extra: list[int]
) -> None:
    assert office_client.get(finding.get_absolute_url()).status_code == 200
    assert office_client.post(reverse(name, args=[finding.pk, *extra])).status_code == 403
    assert new(office_client, finding.build).status_code == 403
    assert Finding.objects.get().withdrawn == ""


def fill(job: Build, person: Person, count: int) -> None:
    """Findings with all that may hang on them."""
    symptom = Symptom.objects.get(name="bent pushrod")
    text = CausePrompt.objects.filter(symptom=symptom).values_list("text", flat=True)[0]
    for number in range(count):
        told = Told(f"pushrod {number}", "bent", f"cyl{number % 8 + 1}", symptom=symptom)
        made = add_finding(job, person, told)[0]
        add_photo(made, photo_of(job, person))
        for backing in (Backing(reading=reading_of(job, person)), Backing(photo=photo_of(job, person)),
                        Backing(part=PartFitted.objects.create(build=job, role="pushrod"))):  # fmt: skip
            add_evidence(made, person, side="for", text="so it looks", backing=backing)
        answer_prompt(made, person, text=text, answer="seen")


def test_lists_and_reports_ask_the_same_number_of_questions_however_many_there_are(
    bench_client: Client, came: Build, builder: Person, queries: Callable[[Client, str], int],
    django_assert_num_queries: Any,
) -> None:  # fmt: skip
    def asked() -> list[int]:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as captured:
            for each in findings_of(came):
                assert str(each.evidence.all()[0].reading.build) == came.job_number
                assert each.shown_on.all()[0].photo.filing.kind == "damage"
                assert each.looks.all()[0].looked_by == builder
        first = came.findings.first()
        pages = [
            reverse("finding-list", args=[came.pk]), first.get_absolute_url(),
            reverse("finding-photos", args=[first.pk]),
            *(reverse("finding-choose", args=[first.pk, kind]) + "?at=any" for kind in ("reading", "photo", "part")),
        ]  # fmt: skip
        return [len(captured), *(queries(bench_client, page) for page in pages)]

    fill(came, builder, 2)
    few = asked()
    fill(came, builder, 20)
    assert asked() == few


def test_a_finding_with_much_evidence_asks_no_more(
    bench_client: Client, finding: Finding, builder: Person, queries: Callable[[Client, str], int]
) -> None:
    def lean(count: int) -> None:
        for _ in range(count):
            add_evidence(
                finding,
                builder,
                side="for",
                text="x",
                backing=Backing(reading=reading_of(finding.build, builder)),
            )
            add_photo(finding, photo_of(finding.build, builder))

    lean(1)
    few = queries(bench_client, finding.get_absolute_url())
    lean(20)
    assert queries(bench_client, finding.get_absolute_url()) == few


def test_the_list_is_paginated(bench_client: Client, came: Build, builder: Person) -> None:
    for number in range(27):
        add_finding(came, builder, Told(f"pushrod {number}", "bent"))
    address = reverse("finding-list", args=[came.pk])
    assert len(bench_client.get(address).context["page_obj"]) == 25
    assert len(bench_client.get(address, {"page": 2}).context["page_obj"]) == 2


def test_the_section_stands_on_returns_and_open_jobs(
    bench_client: Client, came: Build, closed_job: Build, builder: Person
) -> None:
    def has_section(job: Build) -> bool:
        return reverse("finding-list", args=[job.pk]) in bench_client.get(job.get_absolute_url()).text

    assert has_section(came)
    assert not has_section(closed_job)
    panel = bench_client.get(reverse("finding-list", args=[came.pk]), headers={"hx-request": "true"}).text
    assert "No finding yet" in panel


def test_a_change_that_changes_nothing_leaves_no_edit(finding: Finding) -> None:
    before = finding.history.count()
    change_finding(finding, Told("pushrod bent", "bent", "cyl5", symptom=finding.symptom))
    assert finding.history.count() == before
