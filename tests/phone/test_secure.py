"""The three ways to reach the app, as a browser sees them: what is secure opens without signal, what is not says so."""

import ssl
from collections.abc import Iterator

import pytest
import trustme
from playwright.sync_api import Browser, BrowserContext, expect

from tests.front import in_front_of
from tests.phone.boards import worker_ready
from tests.phone.running import ARGUMENTS, HOME_NAME, browser_path, running
from tests.phone.test_kept import choose, make_board, set_bow

pytestmark = pytest.mark.phone


@pytest.fixture(scope="module")
def issued() -> trustme.LeafCert:
    """Make a certificate for the name that browsers do not trust by itself."""
    return trustme.CA().issue_cert(HOME_NAME)


@pytest.fixture(scope="module")
def fronted(tmp_path_factory: pytest.TempPathFactory, issued: trustme.LeafCert) -> Iterator[str]:
    """Run the app behind a web server, and return its secure address."""
    certificate = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    issued.configure_cert(certificate)
    with (
        running(tmp_path_factory.mktemp("fronted"), "--behind-proxy", "127.0.0.1") as port,
        in_front_of(port, certificate) as front,
    ):
        yield f"https://{HOME_NAME}:{front}"


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory, issued: trustme.LeafCert) -> Iterator[str]:
    """Run the app with a certificate of its own."""
    folder = tmp_path_factory.mktemp("own")
    issued.cert_chain_pems[0].write_to_path(folder / "cert.pem")
    issued.private_key_pem.write_to_path(folder / "key.pem")
    options = ("--certificate", str(folder / "cert.pem"), "--key", str(folder / "key.pem"))
    with running(folder / "kept", *options) as port:
        yield f"https://{HOME_NAME}:{port}"


@pytest.fixture
def trusting(browser: Browser) -> Iterator[BrowserContext]:
    """Take a phone in hand on which the authority was installed; a switch stands in for that."""
    other = browser.browser_type.launch(
        executable_path=browser_path(), args=[*ARGUMENTS, "--ignore-certificate-errors"]
    )
    yield other.new_context(viewport={"width": 390, "height": 844})
    other.close()


@pytest.mark.parametrize("way", ["fronted", "own"])
def test_a_secure_address_opens_without_signal(
    trusting: BrowserContext, request: pytest.FixtureRequest, way: str
) -> None:
    """Behind a web server and with a certificate of one's own the context is secure and the worker takes over."""
    address = request.getfixturevalue(way)
    page = trusting.new_page()
    page.goto(address)

    assert page.evaluate("isSecureContext") is True
    worker_ready(page)
    expect(page.locator("[data-plain-address]")).to_have_count(0)
    set_bow(page, address)
    kept = trusting.cookies()[0]
    assert (kept["name"], kept["secure"], kept["httpOnly"]) == ("__Host-stavesight", True, True)
    page.goto(address)
    page.wait_for_function("() => caches.match('/').then(Boolean)")
    trusting.set_offline(True)
    page.goto(address)
    expect(page.get_by_text("No signal")).to_be_visible()


def test_a_plain_address_says_so_and_takes_photos(browser: Browser, address: str) -> None:
    """Without a secure context a line tells what is missing, and a photo is sent all the same."""
    plain = address.replace("127.0.0.1", HOME_NAME)
    phone = browser.new_context(viewport={"width": 390, "height": 844})
    page = phone.new_page()
    page.goto(plain)
    assert page.evaluate("isSecureContext") is False
    expect(page.locator("[data-plain-address]")).to_contain_text("This address is not secure (http)")
    set_bow(page, plain)
    make_board(page, plain)

    expect(page.locator("[data-plain-address]")).to_be_visible()
    choose(page, "face_1")

    expect(page.locator(".kept.good")).to_have_count(1, timeout=60_000)
    phone.close()
