"""A certificate of one's own, tried before anybody is invited."""

import ipaddress
import ssl
from dataclasses import dataclass
from pathlib import Path

from service.errors import BadInput
from service.language import say


@dataclass(frozen=True)
class Certificate:
    """The names a certificate holds for.

    Attributes
    ----------
    addresses, hosts
        Addresses by number, and names of machines; an asterisk stands for any first part.
    """

    addresses: tuple[str, ...]
    hosts: tuple[str, ...]

    def reach(self, address: str | None) -> str | None:
        """Return by what a phone reaches this machine, so that the certificate holds; None when it holds for nothing.

        >>> Certificate(("192.0.2.7",), ("localhost", "shed.home.arpa")).reach("192.0.2.7")
        '192.0.2.7'
        >>> Certificate((), ("localhost", "shed.home.arpa")).reach("192.0.2.7")
        'shed.home.arpa'
        """
        if address in self.addresses:
            return address
        return next((host for host in self.hosts if host != "localhost" and "*" not in host), None)


def open_certificate(certificate: str, key: str) -> Certificate:
    """Try a certificate and its key, and return the names it holds for.

    Parameters
    ----------
    certificate, key
        Files in PEM form (RFC 7468); the certificate first, those of its authority after it.

    Raises
    ------
    BadInput
        A file cannot be read or is none, they do not belong together, the key asks for a password, or the certificate
        does not hold today or not for a web server.
    """
    for name in (certificate, key):
        try:
            Path(name).read_bytes()
        except OSError as error:
            raise BadInput(say("{file} cannot be read: {why}.", file=name, why=error.strerror)) from error
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        server.load_cert_chain(certificate, key, password=_no_password)
    except ssl.SSLError as error:
        raise BadInput(_told(error, certificate, key)) from error
    try:
        names = _met(server, certificate)
    except ssl.SSLError as error:
        why = getattr(error, "verify_message", "") or error.reason
        raise BadInput(
            say("No phone would accept {certificate}: {why}. Make a new one.", certificate=certificate, why=why)
        ) from error
    found = Certificate(
        tuple(str(ipaddress.ip_address(name)) for kind, name in names if kind == "IP Address"),
        tuple(name for kind, name in names if kind == "DNS"),
    )
    if not names:
        raise BadInput(
            say(
                "{certificate} names no address that it holds for (subjectAltName), so no phone would accept it. Make "
                "a new one.",
                certificate=certificate,
            )
        )
    return found


def _no_password() -> str:
    raise BadInput(say("The key asks for a password, and nobody is there to type it. Save it without one."))


def _told(error: ssl.SSLError, certificate: str, key: str) -> str:
    if error.reason == "KEY_VALUES_MISMATCH":
        return say(
            "{key} is not the key of {certificate}. Give the two that were made together.",
            key=key,
            certificate=certificate,
        )
    return say(
        "{certificate} and {key} are no certificate and key in PEM form. Such files begin with -----BEGIN.",
        certificate=certificate,
        key=key,
    )


def _met(server: ssl.SSLContext, certificate: str) -> tuple[tuple[str, str], ...]:
    """Shake hands with oneself as a phone that trusts this certificate would, and return the names in it.

    The standard library tells what stands in a certificate only to whoever was shown it.
    """
    client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    client.check_hostname = False  # the names are what is asked for
    client.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN  # it is trusted itself, its authority need not be here
    client.load_verify_locations(certificate)
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    ends = (client.wrap_bio(to_client, to_server), server.wrap_bio(to_server, to_client, server_side=True))
    for _ in range(4):  # flights of a handshake (RFC 8446, section 2)
        for end in ends:
            try:
                end.do_handshake()
            except ssl.SSLWantReadError:
                continue
    shown = ends[0].getpeercert() or {}
    names: tuple[tuple[str, str], ...] = shown.get("subjectAltName", ())  # type: ignore[assignment]  # pairs of texts
    return names
