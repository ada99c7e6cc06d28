"""A certificate of one's own is tried before anybody is invited."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import trustme
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    PrivateFormat,
    load_pem_private_key,
)

from service.certificate import Certificate, open_certificate
from service.cli import main
from service.errors import BadInput

Write = Callable[..., tuple[str, str]]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Return what writes a certificate and its key into files."""

    def write(stem: str, *names: str, ends: datetime | None = None) -> tuple[str, str]:
        made = trustme.CA().issue_cert(*names, not_after=ends)
        made.cert_chain_pems[0].write_to_path(tmp_path / f"{stem}.pem")
        made.private_key_pem.write_to_path(tmp_path / f"{stem}_key.pem")
        return str(tmp_path / f"{stem}.pem"), str(tmp_path / f"{stem}_key.pem")

    return write


def test_the_names_of_a_certificate_are_told(write: Write) -> None:
    """Addresses and hosts are those of its subjectAltName (RFC 5280, section 4.2.1.6)."""
    found = open_certificate(*write("both", "192.0.2.7", "fd00::7", "shed.home.arpa", "localhost"))

    assert found == Certificate(("192.0.2.7", "fd00::7"), ("shed.home.arpa", "localhost"))


def test_a_phone_is_sent_where_the_certificate_holds() -> None:
    """Nobody is sent to localhost, to a name with an asterisk, or to another machine's address."""
    found = Certificate(("192.0.2.7",), ("localhost", "*.home.arpa"))

    assert found.reach("192.0.2.7") == "192.0.2.7"
    assert found.reach("192.0.2.8") is None


def test_a_key_of_another_certificate_is_refused(write: Write) -> None:
    """Both files are named."""
    certificate, _ = write("one", "localhost")
    _, key = write("two", "localhost")

    with pytest.raises(BadInput, match=r"two_key\.pem is not the key of .*one\.pem\. Give the two"):
        open_certificate(certificate, key)


def test_a_certificate_that_ran_out_is_refused(write: Write) -> None:
    """A phone would refuse it too."""
    certificate, key = write("old", "localhost", ends=datetime.now(UTC) - timedelta(days=1))

    with pytest.raises(BadInput, match=r"No phone would accept .*certificate has expired\. Make a new one"):
        open_certificate(certificate, key)


def test_files_that_are_none_are_refused(write: Write, tmp_path: Path) -> None:
    """A file that is missing is named with the reason, one with other contents with what it should be."""
    certificate, key = write("good", "localhost")
    (tmp_path / "note.txt").write_text("buy glue")

    with pytest.raises(BadInput, match=r"nowhere\.pem cannot be read: No such file or directory\."):
        open_certificate(certificate, str(tmp_path / "nowhere.pem"))
    for pair in ((str(tmp_path / "note.txt"), key), (certificate, str(tmp_path / "note.txt")), (key, certificate)):
        with pytest.raises(BadInput, match="no certificate and key in PEM form"):
            open_certificate(*pair)


def test_a_key_with_a_password_is_refused(write: Write, tmp_path: Path) -> None:
    """The start does not stop at a question nobody sees."""
    certificate, key = write("good", "localhost")
    opened = load_pem_private_key(Path(key).read_bytes(), None)
    locked = tmp_path / "locked.pem"
    locked.write_bytes(opened.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(b"glue")))

    with pytest.raises(BadInput, match="The key asks for a password"):
        open_certificate(certificate, str(locked))


def test_the_start_stops_at_a_bad_certificate(
    write: Write, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command ends with 2 and one sentence; nobody is invited."""
    monkeypatch.setenv("STAVESIGHT_DATA", str(tmp_path / "kept"))
    certificate, key = write("one", "localhost")

    assert main(["serve", "--host", "127.0.0.1", "--certificate", certificate]) == 2
    assert "A certificate and its key belong together" in capsys.readouterr().err
    assert main(["serve", "--host", "127.0.0.1", "--certificate", key, "--key", certificate]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("stavesight: ")
