"""What every request passes: host, origin, size; and the sign-in of a shop's network.

Fetch metadata: W3C Fetch Metadata Request Headers, section 2. Origin: RFC 6454. SameSite: RFC 6265bis.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI, Request
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from starlette.types import Message

from sparkwright.errors import Refusal
from sparkwright.shop import Shop, open_shop
from sparkwright.web import api
from sparkwright.web.app import create_app
from sparkwright.web.guard import CONTENT_SECURITY_POLICY
from sparkwright.web.pages import PAGES
from sparkwright.web.serve import addresses, listen_on, settings_for
from sparkwright.web.sessions import Sessions, has_passphrase, set_passphrase
from sparkwright.web.settings import Settings
from sparkwright.web.view import path_of
from workbench import HOST, OLD_FOUR, workbench

pytestmark = pytest.mark.security

PASSPHRASE = "seven brass kettles"
FORM = b'--x\r\ncontent-disposition: form-data; name="units"\r\n\r\ninch\r\n--x--\r\n'


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with workbench(tmp_path) as (asked, _):
        yield asked


@pytest.fixture
def shared(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path, Settings(hosts=(HOST,), shared=True)) as (asked, shop):
        set_passphrase(shop, PASSPHRASE)
        yield asked, shop


def test_a_host_name_that_is_not_ours_is_refused(client: TestClient) -> None:
    answer = client.get("/", headers={"host": "evil.example"})
    assert answer.status_code == 421
    assert answer.text == (
        "This workbench doesn't answer to the name 'evil.example'. Open it under the address that "
        "`sparkwright serve` printed.\n"
    )


@pytest.mark.parametrize(
    "host",
    ["[::", "a[b]", "http://", "", f"{HOST}/static/?", f"{HOST}#", f"a@{HOST}", f"{HOST}:80:80", f"{HOST}\\"],
)
def test_a_host_that_is_none_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"host": host})
    assert (answer.status_code, answer.text) == (
        400,
        f'host = "{host}": must be one name or address, and perhaps a port; open the workbench under its '
        "address\n",
    )


def test_one_host_is_asked_for(client: TestClient) -> None:
    answer = client.get("/", headers=[("host", HOST), ("host", HOST)])
    assert answer.status_code == 400


def test_no_host_opens_a_page_without_the_passphrase(shared: tuple[TestClient, Shop]) -> None:
    """Some versions of Starlette read the path of `request.url` out of this host, and it is open to all."""
    client, _ = shared
    for host in (f"{HOST}/static/?", f"{HOST}/sign-in?", f"{HOST}/static/#"):
        assert client.get("/", headers={"host": host}, follow_redirects=False).status_code == 400
    scope = {"type": "http", "path": "/jobs", "query_string": b"", "headers": [(b"host", b"a/static/?")]}
    assert path_of(Request(scope)) == "/jobs"


@pytest.mark.parametrize("path", ["/sign-in-too", "/sign-in/", "/static", "/statics/page.js"])
def test_only_the_sign_in_and_our_files_are_open_to_all(shared: tuple[TestClient, Shop], path: str) -> None:
    client, _ = shared
    answer = client.get(path, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/sign-in?back={path}")


def test_a_machine_that_writes_its_name_large_is_reached(tmp_path: Path) -> None:
    with workbench(tmp_path, Settings(hosts=("Bench-PC",))) as (client, _):
        for name in ("bench-pc", "Bench-PC:8270"):
            assert client.get("/", headers={"host": name}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://[::"},
        {"origin": f"http://{HOST}:99"},
    ],
)
def test_a_post_from_elsewhere_is_refused(client: TestClient, headers: dict[str, str]) -> None:
    for path in ("/new/file", "/reading", "/api/v1/jobs"):
        answer = client.post(path, data={"text": OLD_FOUR, "who": "A. B."}, headers=headers)
        assert answer.status_code == 403
        assert answer.text.startswith("This came from another site and was not taken.")


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_page_elsewhere_can_link_here_but_not_work_behind_its_reader(client: TestClient, site: str) -> None:
    link = {"sec-fetch-site": site, "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
    assert client.get("/", headers=link).status_code == 200
    behind = [
        {"sec-fetch-mode": "no-cors"},
        {"sec-fetch-mode": "cors"},
        {"sec-fetch-dest": "iframe"},
        {"sec-fetch-dest": "frame"},
        {"sec-fetch-dest": "embed"},
        {"sec-fetch-dest": "object"},
        {"sec-fetch-dest": ""},
        {"sec-purpose": "prefetch;prerender"},
    ]
    for headers in behind:
        answer = client.get("/api/v1/jobs/some/plan", headers=link | headers)
        assert answer.status_code == 403
        assert answer.text.startswith("This came from another site and was not taken.")


@pytest.mark.parametrize("site", ["same-origin", "none"])
def test_our_own_pages_may_hold_frames_and_pictures(client: TestClient, site: str) -> None:
    for destination in ("iframe", "image", "empty"):
        headers = {"sec-fetch-site": site, "sec-fetch-mode": "no-cors", "sec-fetch-dest": destination}
        assert client.get("/", headers=headers).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [{"sec-fetch-site": "same-origin"}, {"origin": f"http://{HOST}"}, {}],
    ids=["fetch", "origin", "none"],
)
def test_a_post_from_our_own_page_or_from_a_program_comes_in(
    client: TestClient, headers: dict[str, str]
) -> None:
    answer = client.post("/reading", data={"units": "inch"}, headers=headers, follow_redirects=False)
    assert answer.status_code == 303


def test_too_much_is_refused_by_its_stated_length_and_by_counting(tmp_path: Path) -> None:
    settings = Settings(hosts=(HOST,), most_body_bytes=1000)
    with workbench(tmp_path, settings) as (client, shop):
        stated = client.post("/new/file", data={"text": "x" * 2000, "who": "A. B."})
        unstated = client.post(
            "/new/file",
            content=(b"text=" + b"x" * 500 for _ in range(5)),
            headers={"content-type": "application/x-www-form-urlencoded"},
        )
        for answer in (stated, unstated):
            assert answer.status_code == 413
            assert answer.text == "More was sent than is taken here, 1,000 bytes. Nothing was saved.\n"
        assert shop.jobs.count() == 0


CHARSETS = (
    "charset=punycode",
    "charset=unicode_escape",
    "charset=undefined",
    "charset=idna",
    "charset=utf-7",
    "charset=latin-1",
    "charset=us-ascii",
    "charset=",
    'charset="punycode"',
    'charset="utf-8;punycode"',
    "CHARSET = punycode",
    "charset=utf-8; charset=punycode",
    "charset*=utf-8''punycode",
    "charset*0=puny; charset*1=code",
)


@pytest.mark.parametrize("charset", CHARSETS)
@pytest.mark.parametrize("kind", ["multipart/form-data; boundary=x", "application/x-www-form-urlencoded"])
def test_a_form_in_another_charset_is_refused(client: TestClient, kind: str, charset: str) -> None:
    answer = client.post("/sign-in", content=FORM, headers={"content-type": f"{kind}; {charset}"})
    assert (answer.status_code, answer.text) == (
        415,
        f"content-type = {kind}; {charset}"[: len("content-type = ") + 80]
        + ": must name no other charset than utf-8; send the text as UTF-8\n",
    )


@pytest.mark.parametrize("charset", ["", "; charset=utf-8", '; charset="UTF-8"', "; charset=utf8"])
def test_a_form_in_utf_8_comes_in(client: TestClient, charset: str) -> None:
    kind = f"multipart/form-data; boundary=x{charset}"
    answer = client.post("/reading", content=FORM, headers={"content-type": kind}, follow_redirects=False)
    assert answer.status_code == 303


def test_no_route_reads_a_body_in_another_charset(client: TestClient) -> None:
    assert isinstance(client.app, FastAPI)
    asked = [
        (method, route.path)
        for router in (*PAGES, api.router)
        for route in router.routes
        if isinstance(route, APIRoute)
        for method in route.methods or ()
    ]
    assert len(asked) > 60
    for method, path in asked:
        for kind in ("multipart/form-data; boundary=x", "application/json"):
            headers = {"content-type": f"{kind}; charset=punycode"}
            assert client.request(method, path, content=FORM, headers=headers).status_code == 415


def test_a_body_in_another_charset_is_not_even_read(shared: tuple[TestClient, Shop]) -> None:
    client, _ = shared
    kind = b"multipart/form-data; boundary=x; charset=punycode"
    headers = [(b"host", HOST.encode()), (b"content-type", kind), (b"content-length", b"1000")]
    status, answered = asked_without_body(client, "POST", "/sign-in", headers)
    assert status == 415
    assert answered["connection"] == "close"


def asked_without_body(
    client: TestClient, method: str, path: str, headers: list[tuple[bytes, bytes]]
) -> tuple[int, dict[str, str]]:
    """Ask as a server does, with a body that must not be read; give status and headers of the answer."""
    started: list[Message] = []

    async def receive() -> Message:
        raise AssertionError("the body was read")

    async def send(message: Message) -> None:
        started.append(message)

    scope = {
        "type": "http",
        "http_version": "1.1",
        "method": method,
        "path": path,
        "raw_path": path.encode(),
        "root_path": "",
        "scheme": "http",
        "query_string": b"",
        "headers": headers,
        "client": ("127.0.0.1", 50000),
        "server": (HOST, 80),
    }

    async def ask() -> None:
        await client.app(scope, receive, send)

    asyncio.run(ask())
    given = {name.decode().lower(): value.decode() for name, value in started[0]["headers"]}
    return started[0]["status"], given


def test_who_signs_in_sends_a_few_kilobytes(shared: tuple[TestClient, Shop]) -> None:
    client, _ = shared
    long = {"who": "A. B.", "passphrase": "x" * 9000}
    for sent in ({"data": long}, {"data": long, "files": {"file": ("a.bin", b"x" * 9000)}}):
        answer = client.post("/sign-in", **sent)
        assert (answer.status_code, answer.text) == (
            413,
            "More was sent than is taken here, 8,000 bytes. Nothing was saved.\n",
        )


@pytest.mark.parametrize(
    "path", ["/jobs/not-there/files", "/api/v1/jobs/not-there/files", "/jobs/not-there/light/files"]
)
def test_a_file_for_a_job_that_is_not_there_is_refused_unread(client: TestClient, path: str) -> None:
    kind = b"multipart/form-data; boundary=x"
    headers = [(b"host", HOST.encode()), (b"content-type", kind), (b"content-length", b"1000000000")]
    status, answered = asked_without_body(client, "POST", path, headers)
    assert status == 404
    assert answered["connection"] == "close"


@pytest.mark.parametrize(
    "path", ["/", "/new/file", "/nowhere", "/static/page.js", "/api/v1/jobs", "/api/v1/nowhere"]
)
def test_every_answer_carries_the_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    assert headers["content-security-policy"] == CONTENT_SECURITY_POLICY
    assert "unsafe" not in CONTENT_SECURITY_POLICY
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


@pytest.mark.parametrize(
    "name",
    [
        "../app.py",
        "..%2fapp.py",
        "%2e%2e/app.py",
        "app.py",
        "page.js%00",
        "/etc/passwd",
        "htmx.LICENSE",
    ],
)
def test_only_our_own_files_are_given(client: TestClient, name: str) -> None:
    assert client.get(f"/static/{name}").status_code == 404


def test_cookies_are_strict_and_out_of_reach_of_scripts(client: TestClient) -> None:
    answer = client.post("/reading", data={"units": "inch"}, follow_redirects=False)
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


@pytest.mark.parametrize(
    "back", ["//evil.example", "https://evil.example", "/\\evil.example", "javascript:1", ""]
)
def test_nobody_is_sent_to_another_site(client: TestClient, back: str) -> None:
    answer = client.post("/reading", data={"back": back, "units": "inch"}, follow_redirects=False)
    assert answer.headers["location"] == "/"


def test_a_shared_workbench_asks_for_its_passphrase(shared: tuple[TestClient, Shop]) -> None:
    client, _ = shared
    answer = client.get("/jobs/some", follow_redirects=False)
    assert answer.headers["location"] == "/sign-in?back=/jobs/some"
    wrong = client.post("/sign-in", data={"who": "A. B.", "passphrase": "no"})
    assert wrong.status_code == 401
    assert "This is not the shop&#39;s pass-phrase." in wrong.text
    right = client.post(
        "/sign-in", data={"who": "A. B.", "passphrase": PASSPHRASE, "back": "/"}, follow_redirects=False
    )
    assert right.headers["location"] == "/"
    assert "samesite=strict" in right.headers["set-cookie"].lower()
    assert client.get("/").status_code == 200
    copied = client.cookies["sparkwright"]
    client.post("/sign-out")
    assert client.get("/", follow_redirects=False).status_code == 303
    client.cookies.set("sparkwright", copied)
    assert client.get("/", follow_redirects=False).status_code == 303


def test_behind_tls_the_sign_in_never_goes_out_in_the_open(shared: tuple[TestClient, Shop]) -> None:
    client, _ = shared
    sent = {"who": "A. B.", "passphrase": PASSPHRASE}
    for scheme, wanted in (("https", True), ("http", False)):
        answer = client.post(f"{scheme}://{HOST}/sign-in", data=sent, follow_redirects=False)
        cookie = answer.headers.get_list("set-cookie")[0].lower()
        assert cookie.startswith("sparkwright=")
        assert ("; secure" in cookie) is wanted


def test_no_name_stands_for_every_host(tmp_path: Path) -> None:
    with workbench(tmp_path, Settings(hosts=("*",))) as (client, _):
        assert client.get("/").status_code == 421


def test_what_is_typed_outlives_a_sign_in_that_ended(shared: tuple[TestClient, Shop]) -> None:
    client, shop = shared
    shop.jobs.create(OLD_FOUR, who="A. Example", why="First facts")
    row = {"commanded_deg": 20, "speed_rpm": 2000, "seen_deg": 20, "who": "A. Example"}
    path = "/jobs/old-four/light/readings"
    part = client.post(path, data=row, headers={"hx-request": "true"}, follow_redirects=False)
    assert (part.status_code, part.text) == (
        401,
        "The sign-in has ended. Sign in again in another window; what you typed is still here.",
    )
    whole = client.post(path, data=row, follow_redirects=False)
    assert (whole.status_code, "then load this page again" in whole.text) == (401, True)
    client.post("/sign-in", data={"who": "A. B.", "passphrase": PASSPHRASE})
    assert client.post(path, data=row).status_code == 200
    assert len(shop.evidence.of_job("old-four")) == 1


def test_after_the_sign_in_the_same_page_comes(shared: tuple[TestClient, Shop]) -> None:
    client, _ = shared
    answer = client.get("/jobs/some/map?number=3&line=rpm-2000", follow_redirects=False)
    form = client.get(answer.headers["location"]).text
    assert 'name="back" value="/jobs/some/map?number=3&amp;line=rpm-2000"' in form
    nameless = client.post("/sign-in", data={"passphrase": PASSPHRASE, "back": "/jobs/some/map?number=3"})
    assert (nameless.status_code, "your name (not given): must be given" in nameless.text) == (401, True)
    assert 'value="/jobs/some/map?number=3"' in nameless.text


def test_asking_without_a_passphrase_is_no_guess(shared: tuple[TestClient, Shop]) -> None:
    client, _ = shared
    for _ in range(7):
        assert client.get("/api/v1/jobs").status_code == 401
    assert client.get("/api/v1/jobs", auth=("dyno", PASSPHRASE)).status_code == 200


def test_a_program_sends_the_passphrase_along(shared: tuple[TestClient, Shop]) -> None:
    client, _ = shared
    refused = client.get("/api/v1/jobs")
    assert refused.status_code == 401
    assert refused.json() == {
        "schema": "urn:sparkwright:refusal:1",
        "problems": ["The shop's pass-phrase is needed, as the password of HTTP Basic."],
    }
    assert client.get("/api/v1/jobs", auth=("dyno", "wrong")).status_code == 401
    assert client.get("/api/v1/jobs", auth=("dyno", PASSPHRASE)).status_code == 200
    assert client.get("/api/v1/jobs", headers={"authorization": "Basic ###"}).status_code == 401


def test_sign_ins_end(tmp_path: Path) -> None:
    shop = open_shop(tmp_path / "shop")
    set_passphrase(shop, PASSPHRASE)
    sessions = Sessions(shop, hours=12.0)
    token = sessions.begin(now_s=1_000_000.0)
    assert sessions.holds(token, now_s=1_000_000.0 + 12 * 3600 - 1)
    assert not sessions.holds(token, now_s=1_000_000.0 + 12 * 3600)
    body, _, signature = token.rpartition(".")
    longer = body.rpartition(".")[0] + ".9999999999." + signature
    for forged in (longer, "", ".", "a.b", f"{body}.", token[:-1], "x.99999999999999999999.y"):
        assert not sessions.holds(forged, now_s=1_000_000.0)
    set_passphrase(shop, "another long phrase")
    assert not sessions.holds(token, now_s=1_000_000.0)
    shop.close()


def test_ended_sign_ins_are_forgotten_when_their_time_is_over(tmp_path: Path) -> None:
    shop = open_shop(tmp_path / "shop")
    set_passphrase(shop, PASSPHRASE)
    sessions = Sessions(shop, hours=1.0)
    first, second = sessions.begin(now_s=0.0), sessions.begin(now_s=7200.0)
    sessions.end(first, now_s=10.0)
    assert not sessions.holds(first, now_s=11.0)
    sessions.end("forged.99999.token", now_s=11.0)
    sessions.end(second, now_s=7201.0)
    assert (shop.settings.get("ended_sign_ins") or "").split() == [second.rpartition(".")[0]]
    shop.close()


def test_a_shop_without_passphrase_lets_nobody_in(tmp_path: Path) -> None:
    shop = open_shop(tmp_path / "shop")
    sessions = Sessions(shop, hours=12.0)
    assert not has_passphrase(shop)
    assert not sessions.opens("", "here")
    assert not sessions.holds("aa.9999999999.", now_s=0.0)
    shop.close()


def test_a_short_passphrase_is_refused(tmp_path: Path) -> None:
    shop = open_shop(tmp_path / "shop")
    with pytest.raises(Refusal) as refused:
        set_passphrase(shop, "short")
    assert str(refused.value) == (
        "pass-phrase = 5 letters: must have at least 10; four words that don't belong together are easy to "
        "keep and hard to guess"
    )
    assert "short" not in (shop.settings.get("passphrase") or "")
    shop.close()


def test_a_network_address_needs_a_passphrase_first(tmp_path: Path) -> None:
    shop = open_shop(tmp_path / "shop")
    with pytest.raises(Refusal) as refused:
        settings_for("0.0.0.0", (), shop, 12.0)
    assert str(refused.value) == (
        "--listen = 0.0.0.0: is reached by other machines, so the shop needs a pass-phrase first; "
        "set one with `sparkwright shop passphrase`"
    )
    set_passphrase(shop, PASSPHRASE)
    assert settings_for("0.0.0.0", ("bench.local",), shop, 12.0).shared
    assert "bench.local" in settings_for("0.0.0.0", ("bench.local",), shop, 12.0).hosts
    assert not settings_for("127.0.0.1", (), shop, 12.0).shared
    shop.close()


def test_a_name_of_the_network_needs_a_passphrase_first(tmp_path: Path) -> None:
    """Behind a proxy on the same machine it is asked for under such a name, and serves at 127.0.0.1."""
    with open_shop(tmp_path / "shop") as shop:
        with pytest.raises(Refusal) as refused:
            settings_for("127.0.0.1", ("workbench.shop.example",), shop, 12.0)
        assert str(refused.value) == (
            "--name = workbench.shop.example: is a name under which others may ask, so the shop needs a "
            "pass-phrase first; set one with `sparkwright shop passphrase`"
        )
        for name in ("localhost", "LOCALHOST", "127.0.0.2", "::1"):
            assert not settings_for("127.0.0.1", (name,), shop, 12.0).shared
        set_passphrase(shop, PASSPHRASE)
        for name in (
            "workbench.shop.example",
            "192.168.1.20",
            "localhost.evil.example",
            "127.0.0.1.nip.example",
        ):
            assert settings_for("127.0.0.1", ("localhost", name), shop, 12.0).shared


@pytest.mark.parametrize("name", ["http://bench", "bench:8270", "[::1]", "a b", "", "*", "bench/"])
def test_a_name_that_nobody_can_ask_for_is_refused(tmp_path: Path, name: str) -> None:
    with open_shop(tmp_path / "shop") as shop, pytest.raises(Refusal) as refused:
        settings_for("127.0.0.1", (name,), shop, 12.0)
    assert str(refused.value) == (
        f'--name = "{name}": must be a name or an address, without http:// and without a port; for example '
        "workbench.shop.example"
    )


def test_a_proxy_is_named_by_its_address_and_needs_a_passphrase_first(tmp_path: Path) -> None:
    with open_shop(tmp_path / "shop") as shop:
        with pytest.raises(Refusal) as refused:
            settings_for("127.0.0.1", (), shop, 12.0, "127.0.0.1")
        assert str(refused.value) == (
            "--behind-proxy = 127.0.0.1: lets in whom the proxy lets in, so the shop needs a pass-phrase "
            "first; set one with `sparkwright shop passphrase`"
        )
        set_passphrase(shop, PASSPHRASE)
        assert settings_for("127.0.0.1", (), shop, 12.0, "127.0.0.1").shared
        for address in ("*", "", "proxy.example", "10.0.0.0/8"):
            with pytest.raises(Refusal) as refused:
                settings_for("127.0.0.1", (), shop, 12.0, address)
            assert str(refused.value) == (
                f'--behind-proxy = "{address}": must be the address from which the proxy asks, in numbers; '
                "127.0.0.1 where it runs on this machine"
            )


@pytest.mark.parametrize(("everywhere", "own"), [("0.0.0.0", "127.0.0.1"), ("::", "[::1]")])
def test_every_address_that_is_said_answers(tmp_path: Path, everywhere: str, own: str) -> None:
    with open_shop(tmp_path / "shop") as shop, listen_on(everywhere, 0) as taken:
        set_passphrase(shop, PASSPHRASE)
        settings = settings_for(everywhere, ("bench.local",), shop, 12.0)
        port = taken.getsockname()[1]
        said = addresses(taken, settings)
        assert said[0] == f"http://{own}:{port}/"
        assert f"http://bench.local:{port}/" in said
        client = TestClient(create_app(shop, settings))
        for address in said:
            host = address.removeprefix("http://").removesuffix("/")
            assert client.get("/sign-in", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    ("hours", "shown"),
    [(float("nan"), "nan"), (float("inf"), "inf"), (-1.0, "-1"), (0.0, "0"), (721.0, "721")],
)
def test_a_sign_in_lasts_a_time_that_can_be(tmp_path: Path, hours: float, shown: str) -> None:
    shop = open_shop(tmp_path / "shop")
    with pytest.raises(Refusal) as refused:
        settings_for("127.0.0.1", (), shop, hours)
    assert str(refused.value) == f"--hours = {shown}: must be 0.1 to 720; 12 is a working day"
    shop.close()


@pytest.mark.parametrize(
    ("address", "port", "sentence"),
    [
        ("127.0.0.1", 70000, "--port = 70000: must be 0 to 65535; 0 picks a free one"),
        (
            "somewhere",
            0,
            '--listen = "somewhere": must be an address of this machine in numbers; for example 192.168.1.20',
        ),
        (
            # TEST-NET-3, which no machine has (RFC 5737).
            "203.0.113.7",
            0,
            '--listen = "203.0.113.7": must be an address of this machine; leave it out to serve this '
            "machine alone",
        ),
    ],
)
def test_a_place_that_cannot_be_had_is_named(address: str, port: int, sentence: str) -> None:
    with pytest.raises(Refusal) as refused:
        listen_on(address, port)
    assert str(refused.value) == sentence


def test_a_port_in_use_is_named() -> None:
    with listen_on("127.0.0.1", 0) as first:
        first.listen()
        port = first.getsockname()[1]
        with pytest.raises(
            Refusal, match=rf"--port = {port}: can't be had at 127.0.0.1 \(address already in use\)"
        ):
            listen_on("127.0.0.1", port)
