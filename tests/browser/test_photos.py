"""Photos on the tablet: several at once, without a network, through a reload, and what is refused."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from builds.models import Person, Photo
from tests.browser.test_touch import SIZES
from tests.builds.photo_files import gradient, picture
from tests.scenes import Scene, make_scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SCREENS = [(1024, 768), (800, 1280)]


@pytest.fixture
def scene(bench_tablet, photo_folder) -> Scene:
    return make_scene(Person.objects.get(username="nora"))


@pytest.fixture
def page(bench_tablet, scene):
    """The photos of a job, open."""
    bench_tablet.goto(f"/jobs/{scene.build.pk}/photos/")
    return bench_tablet


@pytest.fixture
def chosen(tmp_path: Path) -> list[str]:
    """Three pictures on the device, no two alike."""
    made = []
    for number, kind in enumerate(("jpeg", "png", "webp")):
        path = tmp_path / f"mark-{number}.{kind}"
        path.write_bytes(picture(kind, gradient(400 + number, 300)))
        made.append(str(path))
    return made


def choose(page, *paths: str) -> None:
    page.locator("#choose-pictures").set_input_files(list(paths))


def words(page, text: str):
    return expect(page.locator("[data-photos-words]")).to_contain_text(text)


def row(page, name: str):
    return page.locator(".take-item", has_text=name)


def test_several_pictures_go_in_with_their_address_and_kind(page, chosen):
    page.select_option("#take-position", "3E")
    page.select_option("#take-kind", "witness-mark")
    page.locator("#take-note").fill("after the second pack")
    choose(page, *chosen[:2])
    words(page, "2 pictures are in the book")
    assert [(photo.name, photo.filing.position, photo.filing.kind, photo.filing.note)
            for photo in Photo.objects.for_list().order_by("pk")] == [
        ("mark-0.jpeg", "3E", "witness-mark", "after the second pack"),
        ("mark-1.png", "3E", "witness-mark", "after the second pack"),
    ]  # fmt: skip
    expect(page.locator("#photo-grid .photo-card")).to_have_count(2)
    row(page, "mark-0").get_by_role("link", name="Open").tap()
    expect(page.locator("h2").first).to_contain_text("Witness mark 3E")
    page.wait_for_load_state("networkidle")
    assert page.locator(".photo-large img").evaluate("image => image.naturalWidth") == 400


def test_the_take_key_asks_for_the_camera_at_the_back(page, chosen):
    camera = page.locator("#take-picture")
    assert (camera.get_attribute("capture"), camera.get_attribute("accept")) == ("environment", "image/*")
    camera.set_input_files(chosen[0])
    words(page, "1 picture is in the book")
    assert Photo.objects.get().name == "mark-0.jpeg"


def test_without_a_network_pictures_wait_and_go_in_when_it_is_back(page, chosen):
    page.context.set_offline(True)
    choose(page, *chosen)
    words(page, "no network: they wait here")
    words(page, "0 of 3 pictures in the book")
    page.context.set_offline(False)
    words(page, "3 pictures are in the book")
    assert sorted(photo.name for photo in Photo.objects.all()) == ["mark-0.jpeg", "mark-1.png", "mark-2.webp"]


def test_a_reload_in_the_middle_loses_nothing_and_doubles_nothing(page, chosen):
    sent = []

    def second_fails(route):
        sent.append(route)
        route.continue_() if len(sent) == 1 else route.abort()

    page.context.route("**/photos/new/", second_fails)
    page.select_option("#take-position", "1I")
    choose(page, *chosen)
    words(page, "1 of 3 pictures in the book")
    page.reload()
    words(page, "0 of 2 pictures in the book")
    page.context.unroute("**/photos/new/")
    words(page, "2 pictures are in the book")
    assert [photo.filing.position for photo in Photo.objects.for_list()] == ["1I"] * 3
    page.reload()
    assert page.locator(".take-item").count() == 0


def test_an_answer_that_is_lost_makes_no_second_photo(page, chosen):
    page.context.route("**/photos/new/", lambda route: (route.fetch(), route.abort()), times=1)
    choose(page, chosen[0])
    words(page, "1 picture is in the book")
    assert Photo.objects.count() == 1


def test_what_is_no_picture_is_told_before_it_is_sent(page, chosen, tmp_path):
    page.context.route("**/photos/new/", lambda route: route.abort())
    text, empty, cut = tmp_path / "notes.jpg", tmp_path / "empty.jpg", tmp_path / "large.jpg"
    text.write_text("3E 0.024")
    empty.touch()
    with cut.open("wb") as file:
        file.truncate(45_000_000)
    choose(page, str(text), str(empty), str(cut))
    expect(row(page, "notes.jpg").locator(".said")).to_contain_text("is no picture that the book keeps")
    expect(row(page, "empty.jpg").locator(".said")).to_contain_text("is empty")
    expect(row(page, "large.jpg").locator(".said")).to_contain_text("is larger than 40 MB")
    words(page, "3 not taken, see below")
    for name in ("notes.jpg", "empty.jpg", "large.jpg"):
        row(page, name).get_by_role("button", name="Remove").tap()
    expect(page.locator(".take-item")).to_have_count(0)


def test_what_the_book_refuses_stays_with_its_sentence_through_a_reload(page, tmp_path):
    cut = tmp_path / "cut.jpg"
    cut.write_bytes(picture("jpeg")[:-300])
    choose(page, str(cut))
    expect(row(page, "cut.jpg").locator(".said")).to_contain_text("cut.jpg stops before its end")
    page.reload()
    expect(row(page, "cut.jpg").locator(".said")).to_contain_text("cut.jpg stops before its end")
    row(page, "cut.jpg").get_by_role("button", name="Remove").tap()
    page.reload()
    expect(page.locator(".take-item")).to_have_count(0)
    assert Photo.objects.count() == 0


def test_a_name_that_runs_the_other_way_turns_nothing_else_around(page, tmp_path):
    path = tmp_path / "\u202egpj.kram.jpg"
    path.write_bytes(picture("jpeg", gradient(400, 300)))
    choose(page, str(path))
    words(page, "1 picture is in the book")
    name, size = (page.locator(f".take-item .name {each}").bounding_box() for each in ("bdi", "small"))
    assert name["x"] + name["width"] <= size["x"] + 1 or name["y"] + name["height"] <= size["y"] + 1
    # What turns the line around does not come into the book.
    assert Photo.objects.get().name == "gpj.kram.jpg"


def test_a_twin_is_kept_when_it_is_meant(page, chosen):
    choose(page, chosen[0])
    words(page, "1 picture is in the book")
    choose(page, chosen[0])
    asked = page.locator(".take-item.is-refused")
    expect(asked.locator(".said")).to_contain_text("in this job already as mark-0.jpeg")
    asked.get_by_role("button", name="Keep it twice").tap()
    expect(page.locator("#photo-grid .photo-card")).to_have_count(2)
    assert Photo.objects.count() == 2


def test_a_log_in_that_ended_is_renewed_in_place(page, chosen):
    page.context.clear_cookies()
    choose(page, chosen[0])
    words(page, "your log-in has ended, nothing is lost")
    page.locator("[data-photos-login]").tap()
    page.locator("#photos-password").fill("wrong")
    page.locator("[data-photos-login-now]").tap()
    expect(page.locator("[data-photos-login-error]")).to_contain_text("does not open the book")
    page.locator("#photos-password").fill("nine loose lifters")
    page.locator("#photos-password").press("Enter")
    words(page, "1 picture is in the book")
    assert Photo.objects.get().taken_by.username == "nora"


def test_a_browser_that_keeps_nothing_says_so_and_sends_all_the_same(bench_tablet, scene, chosen):
    bench_tablet.add_init_script("Object.defineProperty(window, 'indexedDB', { value: undefined })")
    bench_tablet.goto(f"/jobs/{scene.build.pk}/photos/")
    bench_tablet.context.set_offline(True)
    choose(bench_tablet, chosen[0])
    words(bench_tablet, "this browser keeps nothing: closing the page loses")
    bench_tablet.context.set_offline(False)
    words(bench_tablet, "1 picture is in the book")
    assert Photo.objects.count() == 1


def test_a_picture_that_is_not_meant_is_taken_out_of_the_row(page, chosen):
    page.context.set_offline(True)
    choose(page, *chosen[:2])
    row(page, "mark-0").get_by_role("button", name="Do not send").tap()
    page.context.set_offline(False)
    words(page, "1 picture is in the book")
    assert [photo.name for photo in Photo.objects.all()] == ["mark-1.png"]


@pytest.mark.parametrize("size", SCREENS)
def test_everything_to_touch_is_large_enough_and_can_be_read_aloud(page, scene, chosen, tmp_path, size):
    page.set_viewport_size({"width": size[0], "height": size[1]})
    note = tmp_path / "note.txt"
    note.write_text("3E")
    choose(page, *chosen, str(note))
    words(page, "3 pictures are in the book")
    photo = Photo.objects.first().get_absolute_url()
    for address in ("", photo, scene.build.get_absolute_url()):
        if address:
            page.goto(address)
            page.wait_for_load_state("networkidle")
        assert page.evaluate(SIZES) == []
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
