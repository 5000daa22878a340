"""The bench's tablets: who is at the bench, by PIN; the lock after two minutes; and where no PIN works."""

from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds import sitting
from builds.models import EnrolledTablet, Person, PinTries
from builds.tablets import COOKIE
from tests.tablets import Clock, enrolled, give_pin, log_in, who

PINS = {"nora": "4071", "tobias": "90357"}
OWNERS = "eleven very loose lifters"


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    return Clock(monkeypatch)


@pytest.fixture
def tablet(owner: Person, builder: Person, second: Person, clock: Clock) -> Client:
    """An enrolled tablet that Nora opened by her password; she and Tobias have PINs."""
    client = enrolled(owner)
    give_pin(builder, PINS["nora"])
    give_pin(second, PINS["tobias"])
    log_in(client)
    return client


def at_work(client: Client) -> str:
    """Whose log-in the browser is, by the name at the head of a page; nobody's when it is asked to log in."""
    page = client.get(reverse("me"))
    return page.context["user"].username if page.status_code == 200 else ""


# ---- changing places ------------------------------------------------------------------------------------------------


def test_people_change_places_by_pin(tablet: Client, second: Person) -> None:
    assert who(tablet, second, PINS["tobias"], next="/drawer/").url == "/drawer/"
    assert at_work(tablet) == "tobias"


def test_a_page_elsewhere_is_not_gone_on_to(tablet: Client, second: Person) -> None:
    assert who(tablet, second, PINS["tobias"], next="https://elsewhere.example/").url == "/"


def test_a_password_changes_places_too(tablet: Client, second: Person) -> None:
    who(tablet, second, password="seven tight lifters")
    assert at_work(tablet) == "tobias"


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        (
            {"pin": "1111"},
            "That is not the PIN of Tobias Arendal. 4 more tries, then your password is asked.",
        ),
        ({"pin": ""}, "Nothing is typed. Type your PIN, or your password."),
        ({"password": "wrong"}, "That is not your password."),
    ],
)
def test_a_wrong_secret_is_told_in_a_sentence(
    tablet: Client, second: Person, sent: dict[str, str], sentence: str
) -> None:
    answer = who(tablet, second, **sent)
    assert (answer.status_code, sentence in answer.text) == (422, True)
    assert at_work(tablet) == "nora"


def test_the_pin_of_another_person_does_not_do(tablet: Client, second: Person) -> None:
    assert who(tablet, second, PINS["nora"]).status_code == 422


def test_somebody_without_a_pin_is_asked_for_the_password(tablet: Client, owner: Person) -> None:
    assert "You have no PIN yet." in who(tablet, owner, "4071").text


def test_somebody_who_left_does_not_come_in_by_pin(tablet: Client, second: Person) -> None:
    Person.objects.filter(pk=second.pk).update(is_active=False)
    assert "does not work in this book any more" in who(tablet, second, PINS["tobias"]).text
    assert at_work(tablet) == "nora"


def test_a_pin_opens_no_shop_no_people_and_no_links(tablet: Client, owner: Person) -> None:
    give_pin(owner, "771903")
    who(tablet, owner, "771903")
    for name in ("shop-edit", "person-new", "tablet-list"):
        answer = tablet.get(reverse(name))
        assert (answer.status_code, "You came in by PIN." in answer.text) == (403, True)


# ---- where a PIN says nothing ---------------------------------------------------------------------------------------


def test_a_browser_that_is_not_enrolled_has_no_field_for_a_pin(
    bench_client: Client, builder: Person, second: Person
) -> None:
    give_pin(second, PINS["tobias"])
    page = bench_client.get(reverse("tablet-who"))
    assert (page.status_code, "this browser is none" in page.text, 'name="pin"' in page.text) == (
        403,
        True,
        False,
    )
    assert who(bench_client, second, PINS["tobias"]).status_code == 403
    assert at_work(bench_client) == "nora"
    assert 'name="pin"' not in bench_client.get(reverse("job-list")).text


def test_a_tablet_that_no_password_opened_takes_no_pin(owner: Person, second: Person) -> None:
    client = enrolled(owner)
    give_pin(second, PINS["tobias"])
    assert client.get(reverse("tablet-who")).url.startswith(reverse("login"))
    assert "A PIN opens nothing here." in who(client, second, PINS["tobias"]).text
    assert at_work(client) == ""


def test_the_next_day_a_password_is_asked(
    tablet: Client, second: Person, clock: Clock, monkeypatch: Any
) -> None:
    tomorrow = timezone.localdate() + timedelta(days=1)
    monkeypatch.setattr(timezone, "localdate", lambda: tomorrow)
    assert "A PIN opens nothing here." in who(tablet, second, PINS["tobias"]).text


def test_a_cookie_that_was_not_signed_here_enrols_nothing(tablet: Client, second: Person) -> None:
    tablet.cookies[COOKIE] = tablet.cookies[COOKIE].value.split(":")[0] + ":forged:signature"
    assert who(tablet, second, PINS["tobias"]).status_code == 403


def test_without_its_cookie_the_log_in_of_a_tablet_is_over(tablet: Client) -> None:
    """Whoever takes the cookie away gets neither round the lock nor to a desk's log-in."""
    del tablet.cookies[COOKIE]
    assert at_work(tablet) == ""


def test_the_log_in_of_one_tablet_does_not_go_on_at_another(tablet: Client, owner: Person) -> None:
    other = enrolled(owner, "bench at the wall")
    other.cookies[settings.SESSION_COOKIE_NAME] = tablet.cookies[settings.SESSION_COOKIE_NAME].value
    assert at_work(other) == ""


# ---- five wrong ones ------------------------------------------------------------------------------------------------


def test_five_wrong_pins_ask_for_the_password(tablet: Client, second: Person) -> None:
    for _ in range(5):
        answer = who(tablet, second, "1357")
    assert "The PIN was wrong five times on this tablet. Type your password." in answer.text
    assert "wrong five times" in who(tablet, second, PINS["tobias"]).text
    who(tablet, second, password="seven tight lifters")
    assert at_work(tablet) == "tobias"
    who(tablet, Person.objects.get(username="nora"), PINS["nora"])
    who(tablet, second, PINS["tobias"])
    assert at_work(tablet) == "tobias"


def test_wrong_pins_of_one_person_close_no_other_and_no_other_tablet(
    tablet: Client, owner: Person, builder: Person, second: Person
) -> None:
    for _ in range(5):
        who(tablet, second, "1357")
    who(tablet, builder, PINS["nora"])
    assert at_work(tablet) == "nora"
    other = enrolled(owner, "bench at the wall")
    log_in(other)
    who(other, second, PINS["tobias"])
    assert at_work(other) == "tobias"


def test_a_right_pin_sets_the_count_back(tablet: Client, second: Person) -> None:
    for _ in range(4):
        who(tablet, second, "1357")
    who(tablet, second, PINS["tobias"])
    assert PinTries.objects.get(person=second).wrong == 0


def test_wrong_passwords_are_throttled_as_at_the_log_in(tablet: Client, second: Person) -> None:
    for _ in range(5):
        answer = who(tablet, second, password="wrong")
    assert "closed from this device for a quarter of an hour" in answer.text
    assert "closed from this device" in who(tablet, second, password="seven tight lifters").text
    assert at_work(tablet) == "nora"


# ---- the lock -------------------------------------------------------------------------------------------------------


def test_the_bench_locks_after_two_idle_minutes(tablet: Client, clock: Clock) -> None:
    clock.goes_on(sitting.LOCKS_AFTER)
    assert at_work(tablet) == "nora"
    clock.goes_on(sitting.LOCKS_AFTER + 1)
    answer = tablet.get("/drawer/")
    assert answer.url == f"{reverse('tablet-who')}?next=%2Fdrawer%2F"
    page = tablet.get(answer.url)
    assert "Nora Vesterlund was here." in page.text
    assert at_work(tablet) == ""


def test_whoever_goes_on_working_is_not_locked_out(tablet: Client, clock: Clock) -> None:
    for _ in range(20):
        clock.goes_on(60)
        assert at_work(tablet) == "nora"


def test_a_pin_opens_the_lock_and_the_same_log_in_goes_on(
    tablet: Client, builder: Person, clock: Clock
) -> None:
    session = tablet.cookies[settings.SESSION_COOKIE_NAME].value
    clock.goes_on(sitting.LOCKS_AFTER + 1)
    answer = tablet.post(
        reverse("tablet-who"),
        {"person": builder.pk, "pin": PINS["nora"]},
        headers={"accept": "application/json"},
    )
    assert answer.json() == {"person": builder.pk}
    assert at_work(tablet) == "nora"
    assert tablet.cookies[settings.SESSION_COOKIE_NAME].value == session


def test_an_owner_who_opens_the_lock_by_pin_has_what_a_pin_opens_until_the_password_is_given_again(
    owner: Person, builder: Person, clock: Clock
) -> None:
    client = enrolled(owner)
    give_pin(owner, "771903")
    log_in(client, "greta", OWNERS)
    assert client.get(reverse("person-new")).status_code == 200
    clock.goes_on(sitting.LOCKS_AFTER + 1)
    who(client, owner, "771903")
    answer = client.get(reverse("person-new"))
    assert (answer.status_code, "You came in by PIN." in answer.text) == (403, True)
    closed = client.post(reverse("person-active", args=[builder.pk]), {"active": "no"})
    builder.refresh_from_db()
    assert (closed.status_code, builder.is_active) == (403, True)
    who(client, owner, password=OWNERS)
    assert client.get(reverse("person-new")).status_code == 200


def test_another_person_opens_the_lock_for_themselves(tablet: Client, second: Person, clock: Clock) -> None:
    clock.goes_on(sitting.LOCKS_AFTER + 1)
    who(tablet, second, PINS["tobias"])
    assert at_work(tablet) == "tobias"


def test_what_a_locked_tablet_sends_is_kept_waiting(tablet: Client, clock: Clock) -> None:
    clock.goes_on(sitting.LOCKS_AFTER + 1)
    answer = tablet.post(reverse("tablet-touch"), headers={"hx-request": "true"})
    assert (answer.status_code, answer.headers["HX-Trigger"]) == (401, "bench-locked")


def test_the_key_that_locks_does_so_at_once(tablet: Client) -> None:
    assert tablet.post(reverse("tablet-lock")).url == reverse("tablet-who")
    assert at_work(tablet) == ""


def test_a_desk_does_not_lock(bench_client: Client, clock: Clock) -> None:
    clock.goes_on(3 * 3600)
    assert at_work(bench_client) == "nora"
    assert bench_client.post(reverse("tablet-lock")).status_code == 403


def test_a_log_in_ends_twelve_hours_after_its_password_however_busy_it_was(
    bench_client: Client, clock: Clock
) -> None:
    for _ in range(12):
        clock.goes_on(3600)
        assert at_work(bench_client) == "nora"
    clock.goes_on(1)
    assert at_work(bench_client) == ""


def test_a_pin_does_not_draw_the_day_out(
    tablet: Client, builder: Person, second: Person, clock: Clock
) -> None:
    clock.goes_on(60)
    who(tablet, second, PINS["tobias"])
    for _ in range(12 * 60 - 1):
        clock.goes_on(60)
        assert tablet.post(reverse("tablet-touch")).status_code == 204
    clock.goes_on(60)
    assert "A PIN opens nothing here." in who(tablet, builder, PINS["nora"]).text


# ---- enrolling and revoking -----------------------------------------------------------------------------------------


def test_a_builder_enrols_nothing(bench_client: Client) -> None:
    assert bench_client.post(reverse("tablet-enrol"), {"name": "mine"}).status_code == 403
    assert not EnrolledTablet.objects.exists()


def test_the_cookie_cannot_be_read_by_a_page(owner_client: Client) -> None:
    answer = owner_client.post(reverse("tablet-enrol"), {"name": "bench"})
    cookie = answer.cookies[COOKIE]
    assert (cookie["httponly"], cookie["samesite"]) == (True, "Strict")
    assert EnrolledTablet.objects.get().digest not in cookie.value


def test_a_tablet_is_enrolled_once(owner_client: Client) -> None:
    for _ in range(2):
        page = owner_client.post(reverse("tablet-enrol"), {"name": "bench"}, follow=True)
    assert "This browser is enrolled already, as bench." in page.text
    assert EnrolledTablet.objects.count() == 1


def test_a_tablet_without_a_name_is_refused(owner_client: Client) -> None:
    answer = owner_client.post(reverse("tablet-enrol"), {"name": " "})
    assert (answer.status_code, "Name: nothing is filled in." in answer.text) == (422, True)


def test_a_revoked_tablet_logs_out_whoever_is_on_it_and_takes_no_pin(
    tablet: Client, owner: Person, second: Person
) -> None:
    office = Client()
    office.force_login(owner)
    office.post(reverse("tablet-revoke", args=[EnrolledTablet.objects.get().pk]))
    assert at_work(tablet) == ""
    assert who(tablet, second, PINS["tobias"]).status_code == 403
    assert EnrolledTablet.objects.get().revoked_by == owner


def test_an_owner_who_revokes_the_tablet_in_hand_goes_on_as_at_a_desk(
    owner_client: Client, clock: Clock
) -> None:
    owner_client.post(reverse("tablet-enrol"), {"name": "bench"})
    owner_client.post(reverse("tablet-revoke", args=[EnrolledTablet.objects.get().pk]))
    clock.goes_on(3600)
    assert at_work(owner_client) == "greta"


def test_the_list_of_tablets_asks_the_same_for_2_and_for_40(
    owner_client: Client, owner: Person, queries: Any
) -> None:
    def add(numbers: range) -> None:
        for number in numbers:
            EnrolledTablet.objects.create(name=f"T {number}", digest=f"{number}", enrolled_by=owner)

    add(range(2))
    few = queries(owner_client, reverse("tablet-list"))
    add(range(2, 40))
    assert queries(owner_client, reverse("tablet-list")) == few
