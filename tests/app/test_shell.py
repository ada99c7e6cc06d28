"""What lets a phone keep the app on its home screen."""

import re
from pathlib import Path

from fastapi.testclient import TestClient

from service.app.routes.shell import FILES, VERSION, digest_of
from service.settings import find_folder


def test_the_worker_and_the_manifest_lie_at_the_root(client: TestClient) -> None:
    """A service worker rules only what lies below it, so it is served from the root, and asked for again each time."""
    for path, kind in (("/sw.js", "text/javascript"), ("/app.webmanifest", "application/manifest+json")):
        response = client.get(path)

        assert response.status_code == 200
        assert response.headers["content-type"].startswith(kind)
        assert response.headers["cache-control"] == "no-cache"
    for place in (VERSION, FILES):
        assert place not in client.get("/sw.js").text


def test_the_worker_changes_with_any_static_file(tmp_path: Path) -> None:
    """The digest in it changes when a file's content or name does, and only then."""
    (tmp_path / "one.js").write_text("1")
    first, again = digest_of(tmp_path), digest_of(tmp_path)
    (tmp_path / "one.js").write_text("2")
    changed = digest_of(tmp_path)
    (tmp_path / "one.js").rename(tmp_path / "two.js")

    assert first == again
    assert len({first, changed, digest_of(tmp_path)}) == 3


def test_static_files_are_asked_for_again_but_not_sent_again(client: TestClient) -> None:
    """They may be kept, are asked for each time, and come only when they have changed (RFC 9110, section 13.1.2)."""
    first = client.get("/static/page.css")

    again = client.get("/static/page.css", headers={"if-none-match": first.headers["etag"]})

    assert first.headers["cache-control"] == "no-cache"
    assert (again.status_code, again.content) == (304, b"")


def test_pages_name_every_script_that_the_first_one_needs(client: TestClient) -> None:
    """What the first script imports, and what that imports, is asked for with the page and not one after the other."""
    needed: set[str] = set()
    left = ["main"]
    while left:
        text = (find_folder("web") / "static" / f"{left.pop()}.js").read_text(encoding="utf-8")
        new = set(re.findall(r'^import .*"./(\w+).js"', text, re.MULTILINE)) - needed
        needed |= new
        left.extend(new)

    ahead = re.findall(r'<link rel="modulepreload" href="/static/(\w+).js">', client.get("/").text)

    assert sorted(ahead) == sorted(needed)
    assert needed


def test_pages_may_use_the_camera_and_nothing_else_of_the_phone(client: TestClient) -> None:
    """Only the app's own pages may ask for the camera; place, sound and motion are refused to them too.

    The form is that of the W3C's Permissions Policy: an empty list allows nobody, `self` the page's own origin.
    """
    policy = client.get("/").headers["permissions-policy"]

    allowed = dict(part.split("=") for part in policy.split(", "))
    assert allowed.pop("camera") == "(self)"
    assert {"geolocation", "microphone", "accelerometer", "gyroscope", "magnetometer"} <= allowed.keys()
    assert set(allowed.values()) == {"()"}


def test_static_files_come_compressed_under_a_tag_of_their_own(client: TestClient) -> None:
    """Two codings of a file share no strong entity tag, and caches are told of both (RFC 9110, 8.8.3.3 and 12.5.5)."""
    packed, plain = (
        client.get("/static/page.css", headers={"accept-encoding": coding}) for coding in ("gzip", "identity")
    )

    assert packed.content == plain.content
    assert packed.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in plain.headers
    assert packed.headers["etag"] == f"W/{plain.headers['etag']}"
    for response in (packed, plain, client.get("/static/page.css", headers={"if-none-match": plain.headers["etag"]})):
        assert "accept-encoding" in response.headers["vary"].lower()
    assert client.get("/static/icon-192.png").headers.get("content-encoding") is None


def test_pages_and_steps_are_not_held_back_by_compression(client: TestClient) -> None:
    """Only static files are compressed: a page that is told step by step arrives as it is written."""
    assert "content-encoding" not in client.get("/", headers={"accept-encoding": "gzip"}).headers


def test_scripts_come_without_what_only_people_read(client: TestClient) -> None:
    """Comments and indents stay at home; the tag is that of what was sent, so that it is not sent twice."""
    first = client.get("/static/outbox.js")
    again = client.get("/static/outbox.js", headers={"if-none-match": first.headers["etag"]})

    assert "export const outbox" in first.text
    assert not any(line.startswith(("//", " ")) for line in first.text.splitlines())
    assert (again.status_code, again.content) == (304, b"")
