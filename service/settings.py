"""How the web app is run, read from the environment once at the start."""

import ipaddress
import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Final

from service.errors import BadInput
from service.language import say

_HERE: Final = Path(__file__).resolve().parent
_MIB: Final = 1024 * 1024


def find_folder(name: str) -> Path:
    """Find a folder that ships with the program: beside `service` in a clone, inside it when installed.

    Raises
    ------
    BadInput
        It is in neither place.
    """
    places = (_HERE.parent / name, _HERE / name)
    for place in places:
        if place.is_dir():
            return place
    raise BadInput(say("The folder {name} is missing: install the program again, or take a whole clone.", name=name))


@dataclass(frozen=True)
class Settings:
    """Everything that can be set; the variable of `readers` is STAVESIGHT_READERS, and so on.

    Raises
    ------
    BadInput
        A value that cannot be used, or a missing folder. The start stops there.
    """

    host: str = field(
        default="0.0.0.0",  # noqa: S104 - the phone has to reach it over the home network
        metadata={"help": "Address to listen on. 127.0.0.1 keeps phones out."},
    )
    port: int = field(default=8000, metadata={"help": "Port to listen on.", "range": (1, 65535)})
    behind_proxy: str = field(
        default="",
        metadata={
            "help": "Addresses of web servers in front, with commas between them, that are believed when they tell how "
            "a phone reached them. Not set: nobody is believed."
        },
    )
    certificate: str = field(
        default="",
        metadata={"help": "File of a certificate, for a secure address (https) without a web server in front."},
    )
    key: str = field(default="", metadata={"help": "File of the key that belongs to the certificate."})
    web: Path | None = field(default=None, metadata={"help": "Folder of templates and static files."})
    readers: int = field(default=2, metadata={"help": "Boards read at the same time.", "range": (1, 64)})
    waiting: int = field(default=8, metadata={"help": "Boards that may wait for their turn.", "range": (0, 1000)})
    seconds: int = field(default=120, metadata={"help": "Longest time for one board, in seconds.", "range": (1, 3600)})
    photo_bytes: int = field(
        default=40 * _MIB,  # 40 MiB, twice a 48-megapixel phone photo
        metadata={"help": "Largest photo, in bytes.", "range": (1024, 1024 * _MIB)},
    )
    request_bytes: int = field(
        default=200 * _MIB,  # 200 MiB, four sides in four photos each
        metadata={"help": "All photos of one board together, in bytes.", "range": (1024, 4096 * _MIB)},
    )
    files: int = field(default=40, metadata={"help": "Photos of one board.", "range": (1, 400)})
    data: str = field(
        default="",
        metadata={
            "help": "Folder of kept boards and photos, made when missing. Not set: `stavesight` in the user's data "
            "home, which is `XDG_DATA_HOME` or `~/.local/share`."
        },
    )
    database: str = field(
        default="",
        metadata={"help": "Address of the database of kept boards. Not set: an SQLite file in the folder above."},
    )
    device_bytes: int = field(
        default=2048 * _MIB,  # 2 GiB, some 40 boards of a dozen phone photos each
        metadata={"help": "Photos and pictures kept for one phone, in bytes.", "range": (_MIB, 1024 * 1024 * _MIB)},
    )
    keep_days: int = field(
        default=0,
        metadata={"help": "Days after which a board nobody touched is deleted; 0 keeps it.", "range": (0, 36500)},
    )

    def __post_init__(self) -> None:
        for setting in fields(self):
            low, high = setting.metadata.get("range", (None, None))
            value = getattr(self, setting.name)
            if low is not None and not low <= value <= high:
                raise BadInput(
                    say(
                        "{variable} is {value}: it must lie between {low} and {high}.",
                        variable=_variable(setting.name),
                        value=value,
                        low=low,
                        high=high,
                    )
                )
        check_proxies(self.behind_proxy)
        if bool(self.certificate) != bool(self.key):
            raise BadInput(
                say(
                    "A certificate and its key belong together: give both, {certificate} and {key}.",
                    certificate=_variable("certificate"),
                    key=_variable("key"),
                )
            )
        for folder in ("templates", "static"):
            if not (self.web_folder / folder).is_dir():
                raise BadInput(
                    say(
                        "{variable}: there is no folder {folder} in {place}.",
                        variable=_variable("web"),
                        folder=folder,
                        place=self.web_folder,
                    )
                )

    @property
    def web_folder(self) -> Path:
        """The folder of templates and static files."""
        return self.web if self.web is not None else find_folder("web")

    @property
    def data_folder(self) -> Path:
        """The folder of kept boards and photos; an unset or relative data home counts as the usual one."""
        if self.data:
            return Path(self.data).expanduser()
        home = Path(os.environ.get("XDG_DATA_HOME", ""))
        return (home if home.is_absolute() else Path.home() / ".local" / "share") / "stavesight"

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> "Settings":
        """Read the settings from STAVESIGHT_ variables.

        Raises
        ------
        BadInput
            A value that cannot be used, or a variable that no setting has: a misspelt limit must
            not go unnoticed.
        """
        known = {_variable(setting.name): setting for setting in fields(cls)}
        given: dict[str, object] = {}
        for variable, text in environment.items():
            if not variable.startswith("STAVESIGHT_"):
                continue
            if variable not in known:
                raise BadInput(
                    say(
                        "{variable} is no setting. There are: {names}.",
                        variable=variable,
                        names=", ".join(sorted(known)),
                    )
                )
            given[known[variable].name] = _value(variable, known[variable].default, text)
        return cls(**given)  # type: ignore[arg-type]  # each value was made of its field's own kind


def check_proxies(addresses: str) -> None:
    """Refuse what is no address or network to be believed, and a network that holds everybody.

    Raises
    ------
    BadInput
        One of them cannot be used.

    Examples
    --------
    >>> check_proxies("127.0.0.1, 192.168.1.0/24, ::1")
    >>> check_proxies("*")
    Traceback (most recent call last):
    service.errors.BadInput: “*” is no address of a web server in front. Name it by number, such as 127.0.0.1.
    """
    for address in filter(None, addresses.split(",")):
        try:
            network = ipaddress.ip_network(address.strip())
        except ValueError:
            network = None
        if network is None or network.prefixlen == 0:
            raise BadInput(
                say(
                    "“{address}” is no address of a web server in front. Name it by number, such as 127.0.0.1.",
                    address=address.strip(),
                )
            )


def _variable(name: str) -> str:
    return f"STAVESIGHT_{name.upper()}"


def _value(variable: str, default: object, text: str) -> object:
    """Turn a variable's text into the kind of value that the setting holds."""
    if isinstance(default, int):
        try:
            return int(text)
        except ValueError:
            raise BadInput(
                say("{variable} is “{given}”: it must be a whole number.", variable=variable, given=text)
            ) from None
    if default is None:
        return Path(text)
    return text
