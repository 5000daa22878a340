"""Two people on two tablets sign and seal the setup sheet of a head, by touch; any reader then finds both signatures."""

import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import expect

from builds.models import Person, Reading, SealedSheet, Signature
from tests.browser.test_touch import SIZES
from tests.scenes import Scene, make_scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SCREENS = [(1024, 768), (800, 1280)]
CHECKERS = "four gauge blocks"


@pytest.fixture
def scene(bench_tablet: Any, settings: Any, tmp_path: Path) -> Scene:
    """A head that is set up: every valve read at its right height, with all else of the log left out."""
    settings.DATA_DIR, settings.SIGNING_PASSPHRASE = tmp_path, ""
    made = make_scene(Person.objects.get(username="nora"))
    for valve in made.left.valves.all():
        made.read_gap(valve.address, "0")
    return made


@pytest.fixture
def checkers_tablet(browser: Any, live_server: Any, scene: Scene) -> Any:
    """The other tablet, with Ylva, who may check."""
    ylva = Person.objects.create_user("ylva", name="Ylva Norrgard", password=CHECKERS, may_check=True)
    client = Client()
    client.force_login(ylva)
    context = browser.new_context(
        base_url=live_server.url, viewport={"width": 800, "height": 1280}, has_touch=True, is_mobile=False
    )
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    page = context.new_page()
    page.set_default_timeout(30_000)
    yield page
    context.close()


def address(scene: Scene, end: str = "") -> str:
    return f"/jobs/{scene.build.pk}/sheets/setup/{scene.left.pk}/{end}"


def draw(page: Any) -> None:
    """A signature with one finger: two strokes."""
    pad = page.locator(".pad-paper")
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    session = page.context.new_cdp_session(page)
    for start in (0.1, 0.5):
        way = [(start + step * 0.03, 0.3 + 0.4 * (step % 2)) for step in range(10)]
        for place, (x, y) in enumerate(way):
            point = {"x": box["x"] + x * box["width"], "y": box["y"] + y * box["height"]}
            kind = "touchMove" if place else "touchStart"
            session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [point]})
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    session.detach()


def sign(page: Any, name: str, secret: str, word: str) -> None:
    draw(page)
    page.get_by_label("Your full name").fill(name)
    page.get_by_label("once more").fill(secret)
    page.get_by_role("button", name=word).tap()


def accept_all(page: Any, scene: Scene, reason: str) -> None:
    page.goto(address(scene))
    for tick in page.locator("#ready label.tick").all():
        tick.tap()
    page.get_by_label("Why you accept what is ticked").fill(reason)
    page.get_by_role("button", name="Accept what is ticked").tap()
    expect(page.locator("#ready")).to_contain_text("Nothing is lacking.")


def put_up(page: Any, scene: Scene) -> None:
    page.goto(address(scene))
    page.get_by_role("button", name="Put it up for signing").tap()
    expect(page.locator(".state-line")).to_contain_text("Put up, not signed")


def test_two_people_on_two_tablets_sign_and_seal(
    bench_tablet: Any, checkers_tablet: Any, scene: Scene, tmp_path: Path
) -> None:
    accept_all(checkers_tablet, scene, "Left out for this test")
    put_up(bench_tablet, scene)
    sign(bench_tablet, "Nora Vesterlund", "nine loose lifters", "Sign as measured")
    expect(bench_tablet.locator(".state-line")).to_contain_text("Signed once, to be checked")
    checkers_tablet.goto(address(scene, "check/"))
    expect(checkers_tablet.locator(".drawn svg path")).to_be_visible()
    sign(checkers_tablet, "ylva  norrgard", CHECKERS, "Sign as checked, and seal")
    checkers_tablet.wait_for_url(re.compile(r"/sheets/1/$"), timeout=60_000)
    groups = checkers_tablet.locator(".digest-groups").inner_text().split()
    assert "".join(groups) == SealedSheet.objects.get().digest
    assert {len(group) for group in groups} == {4}
    checkers_tablet.get_by_role("link", name="Check it now").tap()
    expect(checkers_tablet.locator("#checked")).to_contain_text("Everything matches.")
    for each in Signature.objects.all():
        assert len(json.loads(each.strokes)["strokes"]) == 2
    file = tmp_path / "sheet.pdf"
    file.write_bytes(bytes(SealedSheet.objects.get().pdf))
    told = subprocess.run(
        ["pdfsig", "-nocert", str(file)], capture_output=True, text=True, check=False
    ).stdout
    assert told.count("Signature is Valid.") == 2
    bench_tablet.goto(f"/jobs/{scene.build.pk}/")
    expect(bench_tablet.locator(".sheet-line.is-done")).to_contain_text("Sheet 1, revision 0")


def test_a_new_reading_voids_the_signature_on_the_other_tablet(
    bench_tablet: Any, checkers_tablet: Any, scene: Scene
) -> None:
    accept_all(checkers_tablet, scene, "Left out for this test")
    put_up(bench_tablet, scene)
    sign(bench_tablet, "Nora Vesterlund", "nine loose lifters", "Sign as measured")
    expect(bench_tablet.locator(".state-line")).to_contain_text("Signed once, to be checked")
    checkers_tablet.goto(address(scene, "check/"))
    scene.read_gap("1E", "0.001")
    sign(checkers_tablet, "Ylva Norrgard", CHECKERS, "Sign as checked, and seal")
    expect(checkers_tablet.locator(".void")).to_contain_text("The signature of Nora Vesterlund is void.")
    expect(checkers_tablet.locator(".differences tbody tr").first).to_be_visible()
    assert not SealedSheet.objects.exists()
    assert Reading.objects.count() > 0


def test_the_pad_clears_keeps_its_strokes_and_enter_never_signs(
    bench_tablet: Any, checkers_tablet: Any, scene: Scene
) -> None:
    accept_all(checkers_tablet, scene, "Left out for this test")
    put_up(bench_tablet, scene)
    kept = bench_tablet.locator("[name=strokes]")
    draw(bench_tablet)
    assert kept.input_value().count("[[") > 0
    bench_tablet.get_by_role("button", name="Clear").tap()
    assert kept.input_value() == ""
    draw(bench_tablet)
    drawn = kept.input_value()
    name = bench_tablet.get_by_label("Your full name")
    name.fill("Nora Vesterlund")
    name.press("Enter")
    bench_tablet.get_by_label("once more").press("Enter")
    assert not Signature.objects.exists()
    bench_tablet.get_by_label("once more").fill("wrong lifters")
    bench_tablet.get_by_role("button", name="Sign as measured").tap()
    expect(bench_tablet.locator("#sign .error").first).to_contain_text("That is not your password")
    assert kept.input_value() == drawn


def test_by_keyboard_alone_the_typed_name_stands(
    bench_tablet: Any, checkers_tablet: Any, scene: Scene
) -> None:
    accept_all(checkers_tablet, scene, "Left out for this test")
    put_up(bench_tablet, scene)
    bench_tablet.get_by_role("button", name="Clear").focus()
    bench_tablet.keyboard.press("Tab")
    bench_tablet.keyboard.press("Space")
    bench_tablet.keyboard.press("Tab")
    bench_tablet.keyboard.type("Nora Vesterlund")
    bench_tablet.keyboard.press("Enter")
    bench_tablet.keyboard.type("nine loose lifters")
    bench_tablet.keyboard.press("Enter")
    bench_tablet.keyboard.press("Enter")
    expect(bench_tablet.locator(".state-line")).to_contain_text("Signed once, to be checked")
    assert "not by drawing" in Signature.objects.get().meaning


@pytest.mark.parametrize("size", SCREENS)
def test_the_pages_are_large_enough_to_touch_and_plain_to_read(
    bench_tablet: Any, checkers_tablet: Any, scene: Scene, size: tuple[int, int]
) -> None:
    checkers_tablet.set_viewport_size({"width": size[0], "height": size[1]})
    bench_tablet.set_viewport_size({"width": size[0], "height": size[1]})
    found: dict[str, Any] = {}

    def look(page: Any, name: str) -> None:
        page.wait_for_load_state("networkidle")
        if small := page.evaluate(SIZES):
            found[f"{name}: small"] = small
        if wrong := Axe().run(page).response["violations"]:
            found[f"{name}: axe"] = [
                (each["id"], [node["html"][:90] for node in each["nodes"]]) for each in wrong
            ]
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            found[f"{name}: wide"] = True

    checkers_tablet.goto(address(scene))
    look(checkers_tablet, "lacking")
    accept_all(checkers_tablet, scene, "Left out for this test")
    put_up(bench_tablet, scene)
    look(bench_tablet, "sign")
    sign(bench_tablet, "Nora Vesterlund", "nine loose lifters", "Sign as measured")
    expect(bench_tablet.locator(".state-line")).to_contain_text("Signed once")
    look(bench_tablet, "signed")
    checkers_tablet.goto(address(scene, "check/"))
    look(checkers_tablet, "check")
    sign(checkers_tablet, "Ylva Norrgard", CHECKERS, "Sign as checked, and seal")
    checkers_tablet.wait_for_url(re.compile(r"/sheets/1/$"), timeout=60_000)
    look(checkers_tablet, "sealed")
    bench_tablet.goto(f"/jobs/{scene.build.pk}/sheets/")
    look(bench_tablet, "sheets")
    assert found == {}


def test_the_owner_checks_everything_while_the_page_shows_how_far_it_is(
    bench_tablet: Any, scene: Scene
) -> None:
    Person.objects.filter(username="nora").update(is_superuser=True)
    bench_tablet.goto("/shop/verify/")
    bench_tablet.get_by_role("button", name="Check everything").tap()
    expect(bench_tablet.locator("#book-check")).to_contain_text("Everything matches.", timeout=30_000)
    assert bench_tablet.evaluate(SIZES) == []
    assert Axe().run(bench_tablet).response["violations"] == []
