"""The customers' application: its pages, its part of the API, and nothing of the bench."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from places import ROOT
from proposal_case import Made, made, today
from public_case import OWN, URL, bench_routes, public_client
from server_client import KEY, MARK, client_of
from talk_case import favourite, note, said

from dsp.errors import InputError
from server.files.packaged import loaded_by, version_of
from server.settings import Public, Settings
from server.web.links import WRONG_LINKS

FORGED = (
    {"Host": "evil.example"},
    {"Host": "127.0.0.1"},
    {"Host": "sounds.example.com:443"},
    {"Host": "sounds.example.com.evil.example"},
    {"Origin": "https://evil.example"},
    {"Origin": "http://sounds.example.com"},
    {"Origin": "null"},
    {"Origin": ""},
)
"""Each is refused, whatever it asks for."""
CLAIMS = (
    {},
    {"X-Forwarded-For": "127.0.0.1"},
    {"X-Forwarded-Host": "127.0.0.1", "X-Forwarded-Proto": "http"},
    {"Forwarded": "for=127.0.0.1;host=127.0.0.1;proto=http"},
    {"Via": "1.1 here"},
)
"""None of them changes an answer."""
FORGED_STATUS = 403


@pytest.fixture(scope="module")
def proposal(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(tmp_path_factory.mktemp("proposal"))


@pytest.fixture(scope="module")
def public(proposal: Made) -> TestClient:
    """Open a customer's browser at the public address."""
    return public_client(proposal.client.app)  # type: ignore[arg-type]


# --- Nothing of the bench


def test_no_route_of_the_bench_is_there(proposal: Made, public: TestClient) -> None:
    walked = 0
    for method, path in bench_routes(proposal.client.app):  # type: ignore[arg-type]
        for headers in CLAIMS:
            answer = public.request(method, path, headers={**OWN, **headers})
            assert answer.status_code == 404, f"{method} {path} {headers}"
        for headers in (FORGED[0], FORGED[4]):
            answer = public.request(method, path, headers={**OWN, **headers})
            assert answer.status_code == FORGED_STATUS, f"{method} {path} {headers}"
        walked += 1
    assert walked > 80
    assert {"/", "/api/access", "/api/commissions", "/api/openapi.json", "/api/live"} <= {
        path
        for _, path in bench_routes(proposal.client.app)  # type: ignore[arg-type]
    }


def test_a_forged_host_or_origin_gets_no_page_and_changes_nothing(proposal: Made, public: TestClient) -> None:
    assert public.post(f"{proposal.link}/operations", json=said(favourite(2))).status_code == 200
    for headers in FORGED:
        for path in (proposal.link, f"/p/{proposal.token}", "/web/js/customer.js"):
            assert public.get(path, headers=headers).status_code == FORGED_STATUS, headers
        body = said(favourite(1))
        answer = public.post(f"{proposal.link}/operations", json=body, headers=headers)
        assert answer.status_code == FORGED_STATUS, headers
    assert proposal.offer()["favourites"] == [2]


def test_whoever_changes_something_names_the_origin_and_bears_our_mark(
    proposal: Made, public: TestClient
) -> None:
    bare = TestClient(public.app, base_url=URL)
    url, body = f"{proposal.link}/operations", said(favourite(2))
    assert bare.post(url, json=body).status_code == 403
    assert bare.post(url, json=body, headers=MARK).status_code == 403
    assert bare.post(url, json=body, headers={"Origin": URL}).status_code == 403
    assert bare.post(url, json=body, headers=OWN).status_code == 200


def test_a_websocket_is_refused(public: TestClient) -> None:
    from starlette.websockets import WebSocketDisconnect

    with pytest.raises(WebSocketDisconnect), public.websocket_connect("wss://sounds.example.com/api/live"):
        pass


def test_the_cookie_of_the_bench_opens_nothing_and_none_is_set(tmp_path: Path) -> None:
    bench = client_of(tmp_path, key=KEY)
    assert bench.post("/api/access", json={"key": KEY}).status_code == 200
    public = public_client(bench.app)  # type: ignore[arg-type]
    public.cookies = bench.cookies
    for path in ("/api/commissions", "/p/x", "/api/p/x", "/web/js/customer.js", "/"):
        answer = public.get(path)
        assert "set-cookie" not in answer.headers
        assert answer.status_code == (200 if path in ("/p/x", "/web/js/customer.js") else 404)


# --- What is there


def test_a_proposal_is_read_and_marked(proposal: Made, public: TestClient) -> None:
    assert public.get(proposal.link).json()["items"]
    assert public.post(f"{proposal.link}/operations", json=said(favourite(2))).status_code == 200
    body = said(note("This one", 2))
    assert public.post(f"{proposal.link}/operations", json=body).status_code == 200
    assert proposal.bench()["favourites"] == [2]


@pytest.mark.long
@pytest.mark.slow
def test_a_proposal_is_heard_and_signed(tmp_path: Path) -> None:
    proposal = made(tmp_path)
    proposal.render()
    public = public_client(proposal.client.app)  # type: ignore[arg-type]
    clip = next(iter(public.get(proposal.link).json()["items"][0]["clips"].values()))
    assert public.get(clip["mp3"]).headers["cache-control"] == "private, max-age=31536000, immutable"
    form = {"wiring": 1, "name": "A. B.", "date": today(), "confirm": True}
    assert public.post(f"{proposal.link}/signoff", json=form).status_code == 201
    assert public.get(f"{proposal.link}/record").status_code == 200
    assert proposal.bench()["signoff"]["name"] == "A. B."


def test_the_page_loads_what_its_imports_reach_and_no_other_file_is_there(public: TestClient) -> None:
    page = public.get("/p/some-token")
    assert page.status_code == 200
    named = set(re.findall(r'="(/web/[^"]+)"', page.text))
    assert {name.split("/", 3)[3] for name in named} >= set(loaded_by("customer.html", apart=False))
    assert "js/player/convolve_worklet.js" in loaded_by("customer.html")
    version = version_of("customer.html")
    for name in loaded_by("customer.html"):
        kept, asked = public.get(f"/web/{version}/{name}"), public.get(f"/web/{name}")
        assert kept.content == asked.content == (ROOT / "web" / name).read_bytes()
        assert kept.headers["cache-control"] == "public, max-age=31536000, immutable"
        assert asked.headers["cache-control"] == "no-cache"
        assert asked.headers["etag"]
    files = {
        path.relative_to(ROOT / "web").as_posix() for path in (ROOT / "web").rglob("*") if path.is_file()
    }
    others = files - set(loaded_by("customer.html"))
    assert len(others) > 60
    for name in (*others, "", "../pyproject.toml", "%2e%2e/pyproject.toml", f"{version}/index.html"):
        assert public.get(f"/web/{name}").status_code == 404, name


def test_what_a_page_imports_is_found_by_an_independent_walk() -> None:
    """The browser's own rule: an import's address is resolved against its module's."""
    found, waiting = set(), [ROOT / "web" / "js" / "customer.js"]
    while waiting:
        module = waiting.pop()
        if module in found:
            continue
        found.add(module)
        code = "\n".join(
            line for line in module.read_text().splitlines() if not line.lstrip().startswith("*")
        )
        names = re.findall(r'^\s*(?:import|export|\}).*from "([^"]+)"', code, re.MULTILINE)
        names += re.findall(r'new URL\("([^"]+)", import\.meta\.url\)', code)
        waiting += [(module.parent / name).resolve() for name in names]
    scripts = {name for name in loaded_by("customer.html") if name.endswith(".js")}
    assert {path.relative_to(ROOT / "web").as_posix() for path in found} == scripts


def test_a_page_of_the_version_before_still_finds_its_files(public: TestClient) -> None:
    old = public.get("/web/0123456789abcdef/js/player/convolve_worklet.js")
    assert (old.status_code, old.headers["cache-control"]) == (200, "no-cache")


def test_the_page_is_answered_briefly_to_whoever_has_it(public: TestClient) -> None:
    etag = public.get("/p/x").headers["etag"]
    assert public.get("/p/y", headers={"If-None-Match": etag}).status_code == 304


def test_every_answer_keeps_the_link_out_of_other_logs(proposal: Made, public: TestClient) -> None:
    for path in (proposal.link, "/p/x", "/web/js/customer.js", "/", "/api/none"):
        assert public.get(path).headers["referrer-policy"] == "no-referrer"
    assert public.get(proposal.link).headers["cache-control"] == "no-store"


def test_somebody_astray_is_told_what_to_open(public: TestClient) -> None:
    page = public.get("/", headers={"Accept": "text/html,*/*"})
    assert page.status_code == 404
    assert "whole link" in page.text
    assert public.get("/api/none", headers={"Accept": "text/html"}).json()["problems"]


def test_customers_may_send_little(proposal: Made, public: TestClient) -> None:
    answer = public.post(f"{proposal.link}/operations", content=b"[" * (20 << 10))
    assert answer.status_code == 413


# --- Visitors behind a proxy


def behind_proxy(proposal: Made) -> Any:
    """Return the customers' application as the server runs it: it believes a proxy of this machine."""
    from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

    from server.commands.listening import PROXIES

    app = public_client(proposal.client.app).app  # type: ignore[arg-type]
    return ProxyHeadersMiddleware(app, trusted_hosts=PROXIES)  # type: ignore[arg-type]


def test_one_visitors_wrong_links_lock_nobody_else_out(proposal: Made) -> None:
    app = behind_proxy(proposal)

    def visitor(address: str) -> TestClient:
        headers = {**OWN, "X-Forwarded-For": address}
        return TestClient(app, base_url=URL, headers=headers, client=("127.0.0.1", 5))

    guesser = visitor("198.51.100.7")
    statuses = [guesser.get(f"/api/p/guess{n}").status_code for n in range(WRONG_LINKS + 1)]
    assert statuses == [404] * WRONG_LINKS + [429]
    assert guesser.get(proposal.link).status_code == 429
    assert visitor("198.51.100.8").get(proposal.link).status_code == 200
    assert visitor("2001:db8::8").get(proposal.link).status_code == 200
    claims_another = visitor("203.0.113.1, 198.51.100.7")  # only the last address is the proxy's word
    assert claims_another.get(proposal.link).status_code == 429


def test_a_visitor_who_comes_directly_is_not_believed(proposal: Made) -> None:
    app = behind_proxy(proposal)
    for n in range(WRONG_LINKS + 1):
        headers = {**OWN, "X-Forwarded-For": f"203.0.113.{n}"}
        far = TestClient(app, base_url=URL, headers=headers, client=("198.51.100.9", 5))
        last = far.get(f"/api/p/guess{n}").status_code
    assert last == 429


# --- Settings


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("https://Sounds.Example.com/", "https://sounds.example.com"),
        ("https://sounds.example.com:443", "https://sounds.example.com"),
        ("http://192.0.2.7:8080", "http://192.0.2.7:8080"),
        ("https://[2001:db8::1]:8443", "https://[2001:db8::1]:8443"),
        ("https://bücher.example", "https://xn--bcher-kva.example"),  # RFC 3492, as browsers send it
    ],
)
def test_a_public_address_is_kept_as_browsers_write_it(given: str, kept: str) -> None:
    assert Public(given).url == kept


@pytest.mark.parametrize(
    "given",
    ["", "sounds.example.com", "ftp://x.example", "https://", "https://a.example/b", "https://a.example?b",
     "https://me@a.example", "https://a.example:99999", "https://a.example;b", 'https://a"b'],
)  # fmt: skip
def test_what_is_no_address_is_refused(given: str) -> None:
    with pytest.raises(InputError, match="--public-url"):
        Public(given)


def test_nobody_is_promised_tls_that_nothing_speaks(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="--public-host"):
        Settings(tmp_path, public=Public(URL, "0.0.0.0"))
    cert = {"cert": Path("c.pem"), "cert_key": Path("k.pem")}
    assert Settings(tmp_path, public=Public(URL, "0.0.0.0"), **cert).public_tls
    assert not Settings(tmp_path, public=Public(URL), **cert).public_tls


def test_the_customers_certificate_is_not_for_a_bench_of_this_machine(tmp_path: Path) -> None:
    cert = {"cert": Path("c.pem"), "cert_key": Path("k.pem")}
    assert not Settings(tmp_path, public=Public(URL, "0.0.0.0"), **cert).tls
    assert Settings(tmp_path, "0.0.0.0", key=KEY, public=Public(URL, "0.0.0.0"), **cert).tls
    assert Settings(tmp_path, public=Public(URL), **cert).tls
