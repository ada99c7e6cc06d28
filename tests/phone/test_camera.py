"""A board shot through the live picture with its guide: a browser's camera is fed with a drawn board."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Final

import cv2
import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Locator, Page, ViewportSize, expect

from service.sides import SIDES
from tests.drawing.camera import over_whole
from tests.drawing.photo import Scene, photograph
from tests.drawing.solid import Solid
from tests.phone.running import ARGUMENTS, HOME_NAME, browser_path
from tests.phone.test_kept import set_bow
from tests.phone.test_reach import BREACHES, RULES, breaches

pytestmark = pytest.mark.phone

#: Four feet of it: a film of few pixels then shows its grain.
BOARD: Final = Solid(
    71, 1219.2, 38.1, 19.05, (30.0, -210.0), ((0.0, 0.01), (1219.2, 0.02)), ((0.0, -0.01), (1219.2, 0.0))
)  # fmt: skip
PICTURE: Final = {"cols": 1600, "rows": 1200}
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


def film(folder: Path, roll_deg: float, **picture: int) -> Path:
    """Write a film of a board that lies still, turned counter-clockwise by so much."""
    camera = over_whole(BOARD.length_mm, 0.88, roll_deg=roll_deg, **(picture or PICTURE))
    photo, _ = photograph(BOARD, "face_1", camera, Scene(seed=5, place=5))
    colours = np.asarray(Image.open(BytesIO(photo)).convert("RGB"))
    path = folder / f"board_{roll_deg:.0f}.y4m"
    head = f"YUV4MPEG2 W{camera.cols} H{camera.rows} F5:1 Ip A1:1 C420jpeg\nFRAME\n".encode()
    path.write_bytes(head + cv2.cvtColor(colours, cv2.COLOR_RGB2YUV_I420).tobytes())
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


@pytest.fixture
def coarse(browser: Browser, address: str, tmp_path: Path) -> Iterator[Page]:
    """Begin a board on a phone whose live picture has few pixels."""
    with seeing(browser, film(tmp_path, 0.5, cols=640, rows=480)) as other:
        yield begun(other.new_context(viewport=UPRIGHT, permissions=["camera"]), address)


def begun(phone: BrowserContext, address: str) -> Page:
    """Set a bow, begin a board and open its page."""
    page = phone.new_page()
    set_bow(page, address)
    page.locator("#length").fill("48 in")
    page.get_by_label("1x2:").check()
    page.get_by_role("button", name="Go on to the photos").click()
    expect(page).to_have_url(re.compile(r"/boards/(?!new|waiting)\w+$"), timeout=CHECK_MS)
    expect(page.get_by_role("heading", name="The four sides")).to_be_visible()
    page.wait_for_load_state()  # the rest of the page may still be on its way
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

    # The film shows a face to all four, so an edge may be found too wide; what the check says comes all the same.
    for side in ("Face 1", "Edge 2"):
        line = dialog.locator(".camera-told p", has_text=re.compile(f"{side}: (Good|Take it again)"))
        expect(line).to_have_count(1, timeout=CHECK_MS)
    assert kept_slots(page) == list(SIDES)


def test_a_photo_of_too_few_pixels_is_told_before_and_after(coarse: Page) -> None:
    """A live picture that cannot show the grain of a whole board asks for parts, and says what takes sharper photos.

    The check's words come into the live picture, with a way to take that side again.
    """
    dialog = opened(coarse)
    expect(dialog.locator(".camera-hint")).to_have_text("Too far: step closer, or photograph it in two parts.")
    expect(dialog.get_by_text("The phone’s own camera takes sharper photos")).to_be_visible()

    dialog.get_by_role("button", name="Take the photo").click()

    line = dialog.locator(".camera-told p", has_text="Face 1: Take it again")
    expect(line).to_be_visible(timeout=CHECK_MS)
    expect(dialog.get_by_role("heading")).to_have_text("Edge 1")
    line.get_by_role("button", name="Take it again").click()
    expect(dialog.get_by_role("heading")).to_have_text("Face 1")
    expect(dialog.locator(".camera-roll")).to_have_text("Turn it back: Face 1 up.")


def test_nothing_leaves_the_phone_but_the_shot(page: Page) -> None:
    """While the live picture is looked at nothing is sent; a tap on the shutter sends one JPEG as large as the film."""
    sent: list[str] = []
    page.on("request", lambda request: sent.append(f"{request.method} {request.url}"))
    page.evaluate(
        """() => document.querySelector("#pick_face_1_camera").addEventListener("change", async ({ target }) => {
          window.kind = target.files[0].type
          window.shot = await createImageBitmap(target.files[0]).then(({ width, height }) => [width, height])
        }, { capture: true })"""
    )
    dialog = opened(page)
    page.wait_for_timeout(1500)
    before = [one for one in sent if "/static/" not in one]

    dialog.get_by_role("button", name="Take the photo").click()
    expect(dialog.locator(".camera-told p")).to_contain_text("Face 1: Good", timeout=CHECK_MS)

    assert before == []
    posts = {one for one in sent if one.startswith("POST")}
    shot = f"POST {page.url}/photos/face_1"
    assert shot in posts
    assert posts <= {shot, f"POST {page.url}/find/face_1"}
    assert kept_slots(page) == ["face_1"]
    assert (page.evaluate("window.shot"), page.evaluate("window.kind")) == ([1600, 1200], "image/jpeg")


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

    width_px = 0.88 * 1600 * BOARD.width_mm / BOARD.length_mm
    assert edge[2] < face[2]
    assert face[1] < 600 - width_px and face[1] + face[2] > 600 + width_px
    assert tape_right < 0.1 * 1600


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

    # Asked for by its class: a dialog that is closed has lost its role before it hears that it was closed.
    expect(page.locator("dialog.camera")).to_have_count(0)
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


def test_no_rule_of_accessibility_is_broken(coarse: Page) -> None:
    """The open live picture keeps the rules a machine can check, before and after a shot, upright and across."""
    dialog = opened(coarse)
    expect(dialog.locator(".camera-hint")).to_contain_text("Too far")
    found = breaches(coarse)
    dialog.get_by_role("button", name="Take the photo").click()
    expect(dialog.get_by_role("button", name="Take it again")).to_be_visible(timeout=CHECK_MS)
    for screen in SCREENS:
        coarse.set_viewport_size(screen)
        found += coarse.evaluate(BREACHES, RULES)

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
