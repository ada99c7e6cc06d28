"""A phone is known by its cookie alone, sees its own boards alone, and can have everything deleted."""

import pytest
from fastapi.testclient import TestClient

from tests.app.phones import BOW, Phone, text_of


@pytest.mark.parametrize("path", ["/", "/bow", "/once", "/forget"])
def test_looking_makes_no_cookie(phone: Phone, path: str) -> None:
    """Whoever only looks is not remembered."""
    assert "set-cookie" not in phone.get(path).headers


def test_the_first_thing_kept_makes_the_cookie(phone: Phone) -> None:
    """It is out of reach of scripts, is not sent along from other sites, holds for the whole site and a year."""
    cookie = phone.post("/bow", BOW).headers["set-cookie"]

    name, *rules = cookie.split("; ")
    assert name.startswith("stavesight=")
    assert len(name) > 50
    assert set(rules) == {"HttpOnly", "SameSite=Lax", "Path=/", f"Max-Age={365 * 24 * 3600}"}


def test_the_cookie_is_renewed_when_the_app_is_opened(phone: Phone) -> None:
    """Whoever keeps coming back is never forgotten."""
    first = phone.post("/bow", BOW).headers["set-cookie"]

    assert phone.get("/").headers["set-cookie"] == first


def test_a_refused_form_makes_no_cookie(phone: Phone) -> None:
    """Nothing was kept, so nobody has to be remembered."""
    response = phone.post("/bow", {**BOW, "bow_length": "a spear"})

    assert response.status_code == 422
    assert "set-cookie" not in response.headers


def test_over_https_the_cookie_is_held_to_this_host(keeping: TestClient) -> None:
    """RFC 6265bis, section 4.1.3.2: a name that begins with __Host- is taken only with Secure, Path=/ and no Domain."""
    phone = Phone(keeping)
    cookie = phone.post("https://testserver/bow", BOW).headers["set-cookie"]

    assert cookie.startswith("__Host-stavesight=")
    assert "; Secure" in cookie
    assert "; Path=/" in cookie
    assert "Domain" not in cookie
    assert "68 in long" in text_of(phone.get("https://testserver/"))


def test_a_cookie_nobody_gave_out_is_nobody(phone: Phone) -> None:
    """An invented secret shows nothing and is not taken up."""
    phone.cookie = "stavesight=invented"

    response = phone.get("/")

    assert "Set your bow and start" in response.text
    assert "set-cookie" not in response.headers


def test_another_phone_sees_nothing(phone: Phone, other: Phone) -> None:
    """Board, photos, pictures, answer and state of another phone are not there, nor can they be changed."""
    board = phone.read_board()
    other.board()
    photo = phone.state(board)["photos"][0]["id"]

    for path in ("", "/state", "/answer", "/answer.json", f"/photos/{photo}", "/pictures/face_1", "/delete", "/share"):
        assert other.get(f"{board}{path}").status_code == 404, path
    changes = (
        "",
        "/reading",
        "/delete",
        f"/photos/{photo}/delete",
        f"/photos/{photo}/move",
        "/share",
        "/share/withdraw",
    )
    for path in changes:
        assert other.post(f"{board}{path}", {"sure": "yes", "slot": "end"}).status_code == 404, path
    assert other.shoot(f"{board}/photos/face_2").status_code == 404
    own = other.board()
    assert other.get("/compare", a=board.rpartition("/")[2], b=own.rpartition("/")[2]).status_code == 404
    assert other.get(f"{own}/photos/{photo}").status_code == 404
    assert len(phone.settled(board)["photos"]) == 2


def test_whoever_keeps_nothing_has_no_board(phone: Phone, other: Phone) -> None:
    """Without a cookie another's board is not there either, and the page says where to begin."""
    response = other.get(phone.board())

    assert response.status_code == 404
    assert "Start from the first page." in text_of(response)


@pytest.mark.parametrize(
    "told",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site", "origin": "http://testserver"},
    ],
)
def test_another_site_changes_nothing(phone: Phone, told: dict[str, str]) -> None:
    """A form that another site sends in the name of the phone is refused, whatever else it says."""
    board = phone.board()

    response = phone.post(f"{board}/delete", {"sure": "yes"}, headers=told)

    assert response.status_code == 403
    assert "sent from another site, so nothing was changed" in response.text
    assert phone.get(board).status_code == 200


def test_the_plain_address_is_another_site_than_the_secure_one(phone: Phone) -> None:
    """An origin is scheme, host and port (RFC 6454, section 4): the same host by http is another."""
    secure = "https://testserver/bow"

    assert phone.post(secure, BOW, headers={"origin": "http://testserver"}).status_code == 403
    assert phone.post(secure, BOW, headers={"origin": "https://testserver"}).status_code == 303


@pytest.mark.parametrize("told", [{"sec-fetch-site": "same-origin"}, {"origin": "http://testserver"}, {}])
def test_our_own_forms_are_taken(phone: Phone, told: dict[str, str]) -> None:
    """A browser's own words for a form of this site are accepted, also over plain HTTP, where only Origin comes."""
    assert phone.post("/bow", BOW, headers=told).status_code == 303


def test_private_pages_are_not_left_in_a_cache(phone: Phone) -> None:
    """Neither browser nor anything between keeps a page with somebody's boards."""
    board = phone.read_board()

    for path in ("/", "/bow", board, f"{board}/answer", f"{board}/state"):
        assert phone.get(path).headers["cache-control"] == "no-store"


def test_everything_is_deleted_once_it_is_confirmed(phone: Phone) -> None:
    """Asked once more, then boards, bow and cookie are gone, and the browser is told to empty its stores."""
    board = phone.board()
    secret = phone.cookie

    asked = phone.post("/forget")
    assert asked.headers["location"] == "/forget"
    assert "data-forget" in phone.get("/forget").text
    assert phone.get(board).status_code == 200

    done = phone.post("/forget", {"sure": "yes"})

    assert done.headers["location"] == "/"
    assert "Max-Age=0" in done.headers["set-cookie"]
    assert done.headers["clear-site-data"] == '"cache", "storage"'
    phone.cookie = secret
    assert phone.get(board).status_code == 404
    assert "Set your bow and start" in phone.get("/").text
