"""A board shot through the live picture with its guide: a browser's camera is fed with a drawn board."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, ViewportSize, expect

from service.sides import SIDES
from tests.drawing.camera import over_whole
from tests.drawing.photo import Scene, photograph
from tests.phone.running import ARGUMENTS, HOME_NAME, browser_path
from tests.phone.test_camera_sight import PICTURE, WIDE
from tests.phone.test_kept import make_board, set_bow
from tests.phone.test_reach import BREACHES, RULES, breaches

pytestmark = pytest.mark.phone

UPRIGHT: Final = ViewportSize(width=390, height=844)
SCREENS: Final = (UPRIGHT, ViewportSize(width=844, height=390), ViewportSize(width=320, height=640))
TOUCH_PX: Final = 48  # smallest size of what is touched (WCAG 2.2, 2.5.5 asks for 44)
CHECK_MS: Final = 30_000


@contextmanager
def seeing(browser: Browser, video: Path) -> Iterator[Browser]:
    """Start another browser whose camera shows a film."""
    camera = ["--use-fake-device-for-media-stream", f"--use-file-for-fake-video-capture={video}"]
    other = browser.browser_type.launch(executable_path=browser_path(), args=[*ARGUMENTS, *camera])
    yield other
    other.close()


def film(folder: Path, roll_deg: float) -> Path:
    """Write a film of a board that lies still, turned counter-clockwise by so much."""
    camera = over_whole(WIDE.length_mm, 0.88, roll_deg=roll_deg, **PICTURE)
    frame, _ = photograph(WIDE, "face_1", camera, Scene(seed=5, place=5))
    path = folder / f"board_{roll_deg:.0f}.mjpeg"
    path.write_bytes(frame)
    return path


@pytest.fixture(scope="module")
def straight(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """Hold the camera straight over a board."""
    with seeing(browser, film(tmp_path_factory.mktemp("straight"), 0.5)) as other:
        yield other


@pytest.fixture
def phone(straight: Browser) -> Iterator[BrowserContext]:
    """Take a phone in hand whose camera is allowed."""
    context = straight.new_context(viewport=UPRIGHT, has_touch=True, is_mobile=True, permissions=["camera"])
    yield context
    context.close()


@pytest.fixture
def page(phone: BrowserContext, address: str) -> Page:
    """Begin a board on that phone."""
    return begun(phone, address)


def begun(phone: BrowserContext, address: str) -> Page:
    """Set a bow, begin a board and open its page."""
    page = phone.new_page()
    set_bow(page, address)
    make_board(page, address)
    return page


def opened(page: Page, slot: str = "face_1") -> Locator:
    """Open the live picture for a side and wait until it is there."""
    page.locator(f"#shot_{slot} [data-camera]").click()
    dialog = page.get_by_role("dialog")
    expect(dialog.locator(".guide-line")).to_have_count(1)  # drawn once the first picture is there
    return dialog


def kept_slots(page: Page) -> list[str]:
    """Return the places of the photos that the server has, in order."""
    state = page.request.get(f"{page.url.split('#')[0]}/state").json()
    return [photo["slot"] for photo in state["photos"]]


def test_a_board_is_shot_by_four_taps(page: Page) -> None:
    """Side after side, with a roll between, goes into its own place; what the check says comes during the next."""
    dialog = opened(page)
    shutter = dialog.get_by_role("button", name="Take the photo")
    expect(dialog.locator(".camera-hint")).to_have_text("Good: take it.")

    for side, following in zip(SIDES, [*SIDES[1:], ""], strict=True):
        expect(dialog.get_by_role("heading")).to_have_text(side.replace("_", " ").capitalize())
        shutter.click()
        roll = f"Roll it a quarter turn away from you. Next: {following.replace('_', ' ').capitalize()}."
        expect(dialog.locator(".camera-roll")).to_have_text(roll if following else "All sides are taken. Close this.")

    # So few pixels do not show the grain: that is said here, beside a way to take it again.
    expect(dialog.locator(".camera-told p", has_text="Face 1: Take it again")).to_be_visible(timeout=CHECK_MS)
    expect(dialog.locator(".camera-told p", has_text="Edge 2: Take it again")).to_be_visible(timeout=CHECK_MS)
    assert kept_slots(page) == list(SIDES)
    dialog.locator(".camera-told p", has_text="Edge 1").get_by_role("button", name="Take it again").click()
    expect(dialog.get_by_role("heading")).to_have_text("Edge 1")


def test_nothing_leaves_the_phone_but_the_shot(page: Page) -> None:
    """While the live picture is looked at nothing is sent; a tap on the shutter sends one JPEG as large as the film."""
    sent: list[str] = []
    page.on("request", lambda request: sent.append(f"{request.method} {request.url}"))
    page.evaluate(
        """() => document.querySelector("#pick_face_1_camera").addEventListener("change", async ({ target }) => {
          window.shot = await createImageBitmap(target.files[0]).then(({ width, height }) => [width, height])
          window.kind = target.files[0].type
        }, { capture: true })"""
    )
    dialog = opened(page)
    page.wait_for_timeout(1500)
    before = [one for one in sent if "/static/" not in one]

    dialog.get_by_role("button", name="Take the photo").click()
    expect(dialog.locator(".camera-told p")).to_contain_text("Take it again", timeout=CHECK_MS)

    assert before == []
    posts = {one for one in sent if one.startswith("POST")}
    shot = f"POST {page.url}/photos/face_1"
    assert shot in posts
    assert posts <= {shot, f"POST {page.url}/find/face_1"}
    assert kept_slots(page) == ["face_1"]
    assert (page.evaluate("window.shot"), page.evaluate("window.kind")) == ([1280, 960], "image/jpeg")


def test_the_guide_lies_over_the_board_and_is_wider_for_faces(page: Page) -> None:
    """The board of the film lies between the two lines, which stand closer together for an edge; the tape is left."""
    lines = "document.querySelector('.guide-line').getBBox()"
    dialog = opened(page)
    face = page.evaluate(f"(({{ x, y, height }}) => [x, y, height])({lines})")
    tape_right = page.evaluate("(({ x, width }) => x + width)(document.querySelector('.guide-tape').getBBox())")
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    opened(page, "edge_1")
    edge = page.evaluate(f"(({{ x, y, height }}) => [x, y, height])({lines})")

    width_px = 0.88 * 1280 * WIDE.width_mm / WIDE.length_mm
    assert edge[2] < face[2]
    assert face[1] < 480 - width_px and face[1] + face[2] > 480 + width_px
    assert tape_right < 0.1 * 1280


def test_a_tilted_board_is_told_once(browser: Browser, address: str, tmp_path: Path) -> None:
    """A board that rises to the right asks for the phone to be turned the other way; a screen reader hears it once."""
    with seeing(browser, film(tmp_path, 6.0)) as other:
        page = begun(other.new_context(viewport=UPRIGHT, permissions=["camera"]), address)
        dialog = opened(page)
        page.evaluate(
            """() => {
              window.said = []
              const hear = new MutationObserver(([{ target }]) => window.said.push(target.textContent))
              hear.observe(document.querySelector(".camera-words > .unseen"), { childList: true })
            }"""
        )
        expect(dialog.locator(".camera-hint")).to_have_text("Tilt: turn the phone a little counter-clockwise.")
        page.wait_for_timeout(2500)

        assert len(page.evaluate("window.said")) <= 1
        expect(dialog.locator(".camera-words > .unseen")).to_have_text(
            "Tilt: turn the phone a little counter-clockwise."
        )
        expect(dialog.get_by_role("button", name="Take the photo")).to_be_enabled()


@pytest.mark.parametrize("leave", ["escape", "close", "away"])
def test_leaving_stops_the_camera(page: Page, leave: str) -> None:
    """However it is left, the camera is off afterwards and the focus back where it was (WCAG 2.2, 2.4.3)."""
    dialog = opened(page)
    page.evaluate("window.track = document.querySelector('.finder video').srcObject.getVideoTracks()[0]")
    if leave == "escape":
        page.keyboard.press("Escape")
    elif leave == "close":
        dialog.get_by_role("button", name="Close").click()
    else:
        page.evaluate("dispatchEvent(new PageTransitionEvent('pagehide'))")

    expect(dialog).to_have_count(0)
    assert page.evaluate("window.track.readyState") == "ended"
    expect(page.locator("#shot_face_1 [data-camera]")).to_be_focused()


def test_a_refused_camera_leads_to_the_phone_s_own(straight: Browser, address: str) -> None:
    """Where the camera is not allowed, what to do is said, and the phone's own camera is one tap away."""
    page = begun(straight.new_context(viewport=UPRIGHT), address)
    page.locator("#shot_face_1 [data-camera]").click()

    expect(page.get_by_role("alert")).to_contain_text("This page may not use the camera: allow it")
    with page.expect_file_chooser() as chosen:
        page.get_by_role("button", name="Use the phone’s own camera").click()
    assert chosen.value.element.get_attribute("id") == "pick_face_1_camera"


def test_without_a_camera_or_a_secure_address_it_is_not_offered(
    browser: Browser, straight: Browser, address: str
) -> None:
    """On a machine without camera and on a plain address the button stays away; photos are given as before."""
    plain = address.replace("127.0.0.1", HOME_NAME)
    for other, there in ((browser, address), (straight, plain)):
        page = begun(other.new_context(viewport=UPRIGHT), there)
        expect(page.locator("#shot_face_1 [data-plain]")).to_be_hidden()  # the scripts have come
        page.wait_for_timeout(300)
        expect(page.locator("#shot_face_1 [data-camera]")).to_be_hidden()
        expect(page.locator("#pick_face_1_camera")).to_be_attached()
        page.context.close()


def test_no_rule_of_accessibility_is_broken(page: Page) -> None:
    """The open live picture keeps the rules a machine can check, before and after a shot, upright and across."""
    dialog = opened(page)
    expect(dialog.locator(".camera-hint")).to_have_text("Good: take it.")
    found = breaches(page)
    dialog.get_by_role("button", name="Take the photo").click()
    expect(dialog.get_by_role("button", name="Take it again")).to_be_visible(timeout=CHECK_MS)
    for screen in SCREENS:
        page.set_viewport_size(screen)
        found += page.evaluate(BREACHES, RULES)

    assert found == []


@pytest.mark.parametrize("text", ["100%", "200%"])
def test_the_shutter_is_always_at_the_thumb(page: Page, text: str) -> None:
    """On every screen and with text twice as large, the shutter is in view, large, and nothing runs out sideways."""
    dialog = opened(page)
    page.evaluate("size => { document.documentElement.style.fontSize = size }", text)
    for screen in SCREENS:
        page.set_viewport_size(screen)
        for name in ("Take the photo", "Close"):
            box = dialog.get_by_role("button", name=name).bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= TOUCH_PX
            assert box["x"] >= 0 and box["x"] + box["width"] <= screen["width"]
            assert box["y"] + box["height"] <= screen["height"]
        assert dialog.evaluate("one => one.scrollWidth <= one.clientWidth")
