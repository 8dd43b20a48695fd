"""Security of every answer and request: headers, host, origin, size; quiet logs."""

from __future__ import annotations

import logging
import socket
from asyncio import CancelledError
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from server_client import KEY, MARK, client_of
from server_process import Running
from starlette.websockets import WebSocketDisconnect

from server.web.guard import LARGEST_BODY, LARGEST_OPEN_BODY
from server.web.logs import NAMES, WithoutCancelled, WithoutTokens, guard_logs, redact

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "media-src 'self' blob:; worker-src 'self'; font-src 'self'; manifest-src 'self'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)
EVERYWHERE = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
OWN = "http://127.0.0.1"
LIVE = "ws://127.0.0.1/api/live"
"""Set explicitly: the test client gives a WebSocket another host."""
FOREIGN = ("http://evil.example", "https://127.0.0.1", "http://127.0.0.1:81", "http://localhost", "null", "")


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_of(tmp_path / "data")


def create(client: TestClient, **headers: str) -> int:
    """Try to change something, and return the status."""
    answer = client.post("/api/commissions", json={"title": "x"}, headers=headers)
    made = len(client.get("/api/commissions").json())
    assert (answer.status_code == 201) == (made > 0)
    return answer.status_code


# --- Headers


@pytest.mark.parametrize(
    ("method", "path", "caching"),
    [
        ("GET", "/api/commissions", "no-store"),
        ("GET", "/api/nothing", "no-store"),
        ("GET", "/api/openapi.json", "no-store"),
        ("POST", "/api/commissions", "no-store"),
        ("DELETE", "/api/commissions", "no-store"),
        ("GET", "/", "no-cache"),
        ("GET", "/p/some-token", "no-cache"),
        ("GET", "/web/css/tokens.css", "no-cache"),
        ("GET", "/web/none.js", "no-cache"),
        ("OPTIONS", "/nothing", "no-cache"),
    ],
)
def test_every_answer_carries_the_headers(client: TestClient, method: str, path: str, caching: str) -> None:
    headers = client.request(method, path).headers
    assert {name: headers.get(name) for name in EVERYWHERE} == EVERYWHERE
    assert headers["cache-control"] == caching
    assert "access-control-allow-origin" not in headers


def test_a_server_error_carries_them_too_and_reveals_nothing(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*given: Any, **more: Any) -> None:
        raise RuntimeError("a secret of the inside")

    monkeypatch.setattr("server.commissions.store.list_commissions", broken)
    answer = client.get("/api/commissions")
    assert answer.status_code == 500
    assert {name: answer.headers.get(name) for name in EVERYWHERE} == EVERYWHERE
    assert "secret" not in answer.text
    assert answer.json()["problems"][0]["where"] == "the server"
    assert "a secret of the inside" in caplog.text


def test_over_plain_http_elsewhere_the_opener_policy_is_left_out(tmp_path: Path) -> None:
    """Browsers ignore it there and complain on every page."""
    away = client_of(tmp_path, host="192.0.2.7", key=KEY)
    found = away.get("/").headers
    assert {name for name in EVERYWHERE if name not in found} == {"cross-origin-opener-policy"}


def test_pages_are_revalidated_and_answered_briefly(client: TestClient) -> None:
    for path in ("/web/css/tokens.css", "/"):
        first = client.get(path)
        assert first.status_code == 200
        again = client.get(path, headers={"If-None-Match": first.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["content-security-policy"] == POLICY


@pytest.mark.parametrize(
    ("path", "kind"),
    [("/", "text/html"), ("/web/css/tokens.css", "text/css"), ("/web/js/shared/http.js", "text/javascript")],
)
def test_pages_say_what_they_are(client: TestClient, path: str, kind: str) -> None:
    answer = client.get(path)
    assert answer.headers["content-type"] == f"{kind}; charset=utf-8"
    assert client.head(path).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/web/README.md",
        "/web/",
        "/web/../pyproject.toml",
        "/web/%2e%2e/pyproject.toml",
        "/web/..%2fserver/app.py",
        "/web//etc/passwd",
        "/web/js",
        "/docs",
        "/redoc",
        "/web/%00.js",
        "/web/css\\tokens.css",
    ],
)
def test_nothing_else_is_served(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert answer.json()["problems"]


# --- Host and origin


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example:80", "", "0.0.0.0"]
)
def test_a_foreign_name_for_this_machine_is_refused(client: TestClient, host: str) -> None:
    """A name of another site that resolves to 127.0.0.1 would make its pages same-origin with ours."""
    for path in ("/api/commissions", "/", "/api/access"):
        answer = client.get(path, headers={"Host": host})
        assert answer.status_code == 403
        assert answer.json()["problems"][0]["where"] == "Host"


@pytest.mark.parametrize("host", ["localhost", "localhost:8123", "127.0.0.1:8123", "[::1]", "[::1]:8123"])
def test_our_own_names_are_accepted(client: TestClient, host: str) -> None:
    assert client.get("/api/commissions", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("origin", FOREIGN)
def test_another_sites_page_changes_nothing(client: TestClient, origin: str) -> None:
    assert create(client, Origin=origin) == 403


def test_our_own_page_may(client: TestClient) -> None:
    assert create(client, Origin=OWN) == 201


def test_a_program_without_origin_may(client: TestClient) -> None:
    assert create(client) == 201


def test_requests_marked_cross_site_may_not(client: TestClient) -> None:
    assert create(client, **{"Sec-Fetch-Site": "cross-site"}) == 403


def test_without_our_mark_nothing_changes(tmp_path: Path) -> None:
    client = client_of(tmp_path, headers={})
    assert create(client) == 403
    assert create(client, **{"X-Presolder": "0"}) == 403
    for method in ("PUT", "PATCH", "DELETE", "POST"):
        assert client.request(method, "/api/access").status_code == 403


def test_a_form_of_another_site_changes_nothing(tmp_path: Path) -> None:
    """A form can send neither our header nor JSON's type."""
    client = client_of(tmp_path, headers={})
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        answer = client.post("/api/commissions", content='{"title": "x"}', headers={"Content-Type": kind})
        assert answer.status_code == 403
        marked = {**MARK, "Content-Type": kind}
        assert client.post("/api/commissions", content='{"title": "x"}', headers=marked).status_code == 422
    assert client.get("/api/commissions").json() == []


def test_no_other_site_passes_preflight(client: TestClient) -> None:
    headers = {"Origin": "http://evil.example", "Access-Control-Request-Method": "POST"}
    answer = client.options("/api/commissions", headers=headers)
    assert not [name for name in answer.headers if name.startswith("access-control")]


@pytest.mark.parametrize(
    "headers", [{"Origin": one} for one in FOREIGN] + [{"Host": "evil.example"}], ids=str
)
def test_a_websocket_of_another_site_is_refused(client: TestClient, headers: dict[str, str]) -> None:
    with pytest.raises(WebSocketDisconnect), client.websocket_connect(LIVE, headers=headers):
        pass


def test_a_websocket_of_our_own_page_is_not(client: TestClient) -> None:
    with client.websocket_connect(LIVE, headers={"Origin": OWN}):
        pass


def test_a_websocket_without_the_key_receives_nothing(tmp_path: Path) -> None:
    away = client_of(tmp_path, host="192.0.2.7", key=KEY)

    def listen() -> None:
        with away.websocket_connect(LIVE.replace("127.0.0.1", "192.0.2.7")) as socket:
            socket.receive_bytes()

    with pytest.raises(WebSocketDisconnect):
        listen()


# --- Size


def test_a_body_is_bounded_whatever_its_header_says(client: TestClient) -> None:
    inside = {"title": "x", "client": "", "wiring_text": "#" * (LARGEST_BODY - 100)}
    assert client.post("/api/commissions", json=inside).status_code == 422  # read, and too long a text
    over = {**inside, "wiring_text": "#" * LARGEST_BODY}
    assert client.post("/api/commissions", json=over).status_code == 413

    def pieces() -> Any:
        for _ in range(40):
            yield b" " * 100_000

    answer = client.post("/api/commissions", content=pieces())
    assert answer.status_code == 413
    assert answer.json()["problems"][0]["where"] == "the body"


# --- Logs

OURS = (WithoutTokens, WithoutCancelled)
TOKEN = "Zk3vQx-token_of-a_customers.link"


@pytest.mark.parametrize(
    "text",
    [
        f"GET /p/{TOKEN} HTTP/1.1",
        f"/api/p/{TOKEN}/clips/abc.flac",
        f"https://shop.example/p/{TOKEN}?x=1#y",
        f'"/p/{TOKEN}"',
    ],
)
def test_a_token_is_removed_from_a_line(text: str) -> None:
    assert TOKEN not in redact(text)
    assert "/p/…" in redact(text)


def test_the_token_of_an_opened_listing_is_removed_too() -> None:
    said = redact(f"GET /listings/pages/AbC-9/{TOKEN}/index.html HTTP/1.1")
    assert said == "GET /listings/pages/AbC-9/…/index.html HTTP/1.1"


def test_every_log_of_the_server_is_guarded(capsys: pytest.CaptureFixture[str]) -> None:
    handler = logging.StreamHandler()
    lines: list[str] = []
    handler.emit = lambda record: lines.append(f"{record.getMessage()}{record.exc_info}")  # type: ignore[method-assign]
    logs = [logging.getLogger(name) for name in NAMES]
    for log in logs:
        log.addHandler(handler)
    try:
        guard_logs()
        for log in logs:
            log.error('%s - "%s %s" %d', "client", "GET", f"/api/p/{TOKEN}/signoff", 200)
            log.error(f"/p/{TOKEN}")
            for fault in (CancelledError(), ValueError("told")):
                log.error("Exception in ASGI application\n", exc_info=fault)
    finally:
        for log in logs:
            log.removeHandler(handler)
            for target in (log, *log.handlers):
                for one in [one for one in target.filters if isinstance(one, OURS)]:
                    target.removeFilter(one)
    told = [line for line in lines if line.startswith("Exception")]
    assert len(lines) - len(told) >= 2 * len(NAMES)
    assert not [line for line in lines if TOKEN in line]
    assert [line for line in told if "ValueError" in line]
    assert not [line for line in told if "CancelledError" in line]


# --- Proxies


@pytest.mark.parametrize(
    "header", ["X-Forwarded-For", "Forwarded", "Via", "X-Real-IP", "X-Forwarded-Host", "x-forwarded-proto"]
)
@pytest.mark.parametrize("path", ["/", "/api/commissions", "/api/access", "/p/token", "/web/css/tokens.css"])
def test_without_a_key_nothing_passes_a_proxy(client: TestClient, header: str, path: str) -> None:
    """A proxy on this machine would put everybody on loopback, and so on the bench."""
    answer = client.get(path, headers={header: "192.0.2.9"})
    assert answer.status_code == 403
    problem = answer.json()["problems"][0]
    assert header.lower() in problem["got"].lower()
    assert "--key" in problem["allowed"]
    assert client.get(path).status_code != 403


def test_with_a_key_a_proxy_may_pass_requests_on_and_they_need_the_key(tmp_path: Path) -> None:
    shut = client_of(tmp_path, key=KEY)
    proxied = {"X-Forwarded-For": "192.0.2.9"}
    assert shut.get("/", headers=proxied).status_code == 200
    assert shut.get("/api/commissions", headers=proxied).status_code == 401


def test_a_proxy_that_adds_no_header_is_known_by_its_protocol(shared_server: Running) -> None:
    """By default a common web server passes requests on as HTTP/1.0 and adds no header."""
    for version, status in ((b"1.0", b"403"), (b"1.1", b"200")):
        with socket.create_connection(("127.0.0.1", shared_server.port), timeout=20) as connection:
            connection.sendall(
                b"GET /api/commissions HTTP/" + version + b"\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"
            )
            assert connection.recv(100).split()[1] == status


# --- Junk


def test_junk_is_answered_with_twenty_problems(client: TestClient) -> None:
    body = {"title": "x", **{f"field {n}": n for n in range(5000)}}
    answer = client.post("/api/commissions", json=body)
    assert answer.status_code == 422
    problems = answer.json()["problems"]
    assert len(problems) == 21
    assert "4980 more" in problems[-1]["got"]
    assert len(answer.content) < 10_000


@pytest.mark.parametrize("path", ["/api/access", "/api/p/some-token/operations", "/api/commissions"])
def test_clients_without_the_key_may_send_little(tmp_path: Path, path: str) -> None:
    shut = client_of(tmp_path, key=KEY)
    answer = shut.post(path, content=b"[" * (LARGEST_OPEN_BODY + 1))
    assert answer.status_code == 413
    assert str(LARGEST_OPEN_BODY) in answer.json()["problems"][0]["allowed"]


@pytest.mark.parametrize("path", ["/api/access", "/api/p/some-token/operations"])
def test_open_paths_take_little_from_the_bench_too(tmp_path: Path, path: str) -> None:
    signed_in = client_of(tmp_path, key=KEY)
    assert signed_in.post("/api/access", json={"key": KEY}).status_code == 200
    answer = signed_in.post(path, content=b"[" * (LARGEST_OPEN_BODY + 1))
    assert answer.status_code == 413


def test_clients_with_the_key_may_send_more(tmp_path: Path) -> None:
    signed_in = client_of(tmp_path, key=KEY)
    assert signed_in.post("/api/access", json={"key": KEY}).status_code == 200
    body = b'{"title": "' + b"x" * LARGEST_OPEN_BODY + b'"}'
    assert (
        signed_in.post("/api/commissions", content=body).status_code == 422
    )  # too long a title, not too large
