"""The three ways to reach the app, with real servers: plain, behind a web server, with a certificate of one's own."""

import re
import shutil
import ssl
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pytest
import trustme
from httpx2 import Client, Response

from service.app.requests.devices import HTTPS_NAME, PLAIN_NAME
from service.certificate import Certificate, open_certificate
from service.serving import invitation
from service.settings import Settings
from service.store.readings import Made
from service.store.rows import BoardTold
from tests.app.phones import BOW
from tests.front import in_front_of
from tests.phone.running import running
from tests.store.made_up import a_store, answer

README: Final = (Path(__file__).resolve().parent.parent / "README.md").read_text(encoding="utf-8")

FORGED: Final = {"x-forwarded-proto": "https", "x-forwarded-for": "203.0.113.5"}
"""What anybody can write."""


@dataclass(frozen=True)
class Way:
    """An address, the folder of what is kept there, and who vouches for it."""

    address: str
    kept: Path
    trusted: ssl.SSLContext

    def visit(self, **headers: str) -> Client:
        """Visit it as one phone."""
        return Client(base_url=self.address, verify=self.trusted, headers=headers, follow_redirects=False)


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    """Make an authority."""
    return trustme.CA()


@pytest.fixture(scope="module")
def trusted(authority: trustme.CA) -> ssl.SSLContext:
    """Trust that authority alone."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    authority.configure_trust(context)
    return context


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory, trusted: ssl.SSLContext) -> Iterator[Way]:
    """Run the app as it is."""
    kept = tmp_path_factory.mktemp("plain")
    with running(kept) as port:
        yield Way(f"http://127.0.0.1:{port}", kept, trusted)


@pytest.fixture(scope="module")
def fronted(
    tmp_path_factory: pytest.TempPathFactory, authority: trustme.CA, trusted: ssl.SSLContext
) -> Iterator[tuple[Way, Way]]:
    """Run the app behind a web server that was named; return the way through it, and the way past it."""
    kept, certificate = tmp_path_factory.mktemp("fronted"), ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert("localhost").configure_cert(certificate)
    with running(kept, "--behind-proxy", "127.0.0.1") as port, in_front_of(port, certificate) as front:
        yield Way(f"https://localhost:{front}", kept, trusted), Way(f"http://127.0.0.1:{port}", kept, trusted)


@pytest.fixture(scope="module")
def own_files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a certificate by the very commands of README, and return the folder it lies in."""
    commands = re.search(r"<!-- making a certificate -->\n(.*?)<!-- end", README, re.DOTALL)
    assert commands
    if shutil.which("openssl") is None:
        pytest.skip("OpenSSL is not installed, so README's commands cannot be tried")
    folder = tmp_path_factory.mktemp("certificate")
    subprocess.run(["/bin/sh", "-e"], input=commands[1], cwd=folder, text=True, check=True, capture_output=True)
    return folder


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory, own_files: Path) -> Iterator[Way]:
    """Run the app with that certificate, trusting README's authority as a phone does."""
    kept = tmp_path_factory.mktemp("own")
    options = ("--certificate", str(own_files / "cert.pem"), "--key", str(own_files / "key.pem"))
    with running(kept, *options) as port:
        trusted = ssl.create_default_context(cafile=str(own_files / "authority.pem"))
        yield Way(f"https://localhost:{port}", kept, trusted)


def set_bow(phone: Client) -> Response:
    """Set the bow, which makes the phone known."""
    response = phone.post("/bow", data=BOW)
    assert response.status_code == 303, response.text
    return response


def shared(way: Way, phone: Client, name: str) -> str:
    """Keep a read board for a phone, have it shared, and return the address that is told."""
    with a_store(way.kept) as store:
        device = store.devices.of(phone.cookies[name])
        assert device is not None
        board = store.boards.add(device, BoardTold(name="Heron")).id
        store.readings.add(device, board, Made(answer(), {}, [], "1"))
    told = phone.get(phone.post(f"/boards/{board}/share").headers["location"]).text
    address = re.search(r'value="([^"]*/s/[^"]*)"', told)
    assert address
    return address[1]


def holds_securely(way: Way) -> None:
    """Prove of an address over https all that depends on it."""
    with way.visit() as phone:
        made = set_bow(phone)
        cookie = made.headers["set-cookie"]
        assert cookie.startswith(f"{HTTPS_NAME}=")
        assert "; Secure" in cookie
        assert made.headers["location"].startswith(("/", way.address))
        assert phone.get(made.headers["location"]).status_code == 200
        assert "68 in long" in phone.get("/").text
        assert "data-plain-address" not in phone.get("/").text
        address = shared(way, phone, HTTPS_NAME)
        assert address.startswith(f"{way.address}/s/")
    with way.visit() as stranger:
        assert stranger.get(address).status_code == 200
        assert stranger.post("/bow", data=BOW, headers={"origin": way.address}).status_code == 303
        for elsewhere in (way.address.replace("https", "http"), "https://elsewhere.example"):
            assert stranger.post("/bow", data=BOW, headers={"origin": elsewhere}).status_code == 403
        assert "strict-transport-security" not in stranger.get("/").headers


def is_plain(way: Way, **headers: str) -> None:
    """Prove of an address over http that nothing pretends to be more, whatever a phone says."""
    with way.visit(host="shed.test", **headers) as phone:
        cookie = set_bow(phone).headers["set-cookie"]
        assert cookie.startswith(f"{PLAIN_NAME}=")
        assert "Secure" not in cookie
    with way.visit(**headers) as phone:
        set_bow(phone)
        assert shared(way, phone, PLAIN_NAME).startswith(f"{way.address}/s/")


def test_behind_a_web_server_everything_is_secure(fronted: tuple[Way, Way]) -> None:
    """Cookie (RFC 6265bis, 4.1.3.2), redirects, shared addresses and origins are those of the server in front."""
    holds_securely(fronted[0])


def test_a_certificate_of_ones_own_makes_everything_secure(own: Way) -> None:
    """What README's commands make is accepted by whoever trusts its authority, without anything in front."""
    holds_securely(own)


def test_at_a_plain_address_nothing_is_called_secure(plain: Way) -> None:
    """The cookie works without Secure, and shared addresses begin with http."""
    is_plain(plain)


def test_nobody_is_believed_who_was_not_named(plain: Way) -> None:
    """Headers of a web server in front count for nothing, though they come from this very machine."""
    is_plain(plain, **FORGED)


def test_another_address_than_the_named_one_is_not_believed(tmp_path: Path, trusted: ssl.SSLContext) -> None:
    """Whoever goes past the web server in front can pretend nothing."""
    with running(tmp_path, "--behind-proxy", "192.0.2.99") as port:
        is_plain(Way(f"http://127.0.0.1:{port}", tmp_path, trusted), **FORGED)


def test_what_a_phone_says_through_the_web_server_is_replaced(fronted: tuple[Way, Way]) -> None:
    """The web server in front tells itself how it was reached; a phone that says http is at https all the same."""
    with fronted[0].visit(**{"x-forwarded-proto": "http"}) as phone:
        assert set_bow(phone).headers["set-cookie"].startswith(HTTPS_NAME)


def test_what_readme_makes_is_what_phones_accept(own_files: Path) -> None:
    """Server authentication, names, at most 398 days, 2048 bits: CA/Browser Forum Baseline Requirements, from memory.

    The authority can vouch for nothing beyond home networks: name constraints, RFC 5280, section 4.2.1.10.
    """
    found = open_certificate(str(own_files / "cert.pem"), str(own_files / "key.pem"))
    shown = ["openssl", "x509", "-noout", "-text", "-in"]
    leaf = subprocess.run([*shown, "cert.pem"], cwd=own_files, capture_output=True, text=True, check=True).stdout
    top = subprocess.run([*shown, "authority.pem"], cwd=own_files, capture_output=True, text=True, check=True).stdout
    lasts = ["openssl", "x509", "-noout", "-in", "cert.pem", "-checkend", str(398 * 24 * 3600)]

    assert found == Certificate(("192.168.1.20",), ("localhost",))
    assert "TLS Web Server Authentication" in leaf
    assert "CA:FALSE" in leaf
    assert "Public-Key: (2048 bit)" in leaf
    assert subprocess.run(lasts, cwd=own_files, capture_output=True, check=False).returncode == 1
    assert "CA:TRUE" in top
    assert "IP:192.168.0.0/255.255.0.0" in top


def test_the_authority_of_readme_cannot_vouch_for_others(own_files: Path, tmp_path: Path) -> None:
    """A certificate that it signs for an address elsewhere is refused by whoever trusts it."""
    for name, right in (("IP:192.168.7.7", True), ("DNS:shed.home.arpa", True), ("DNS:bank.example", False)):
        made: list[str | Path] = [
            *("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=x"),
            *("-CA", own_files / "authority.pem", "-CAkey", own_files / "authority.key"),
            *("-addext", "basicConstraints=critical,CA:FALSE", "-addext", f"subjectAltName={name}"),
            *("-keyout", tmp_path / "k.pem", "-out", tmp_path / "c.pem"),
        ]
        subprocess.run(made, check=True, capture_output=True)
        asked: list[str | Path] = ["openssl", "verify", "-CAfile", own_files / "authority.pem", tmp_path / "c.pem"]
        assert (subprocess.run(asked, check=False, capture_output=True).returncode == 0) == right, name


def test_the_code_leads_to_where_the_certificate_holds() -> None:
    """The invitation says https, by the address or name in the certificate, or that it holds for neither."""
    settings = Settings(host="192.0.2.7", port=8123)
    by_name = invitation(settings, Certificate((), ("localhost", "shed.home.arpa")))

    assert "https://192.0.2.7:8123" in invitation(settings, Certificate(("192.0.2.7",), ()))
    assert "On a phone in the same network: https://shed.home.arpa:8123" in by_name
    assert "does not hold for 192.0.2.7" in invitation(settings, Certificate((), ("localhost",)))
    assert "http://localhost:8123" in invitation(settings)
    assert "through the web server in front" in invitation(Settings(host="127.0.0.1", behind_proxy="127.0.0.1"))
