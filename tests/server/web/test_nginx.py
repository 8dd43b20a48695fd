"""The customers' listener behind Debian's nginx, and alone: signed through, flooded, forged."""

from __future__ import annotations

import asyncio
import contextlib
import ssl
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import httpx2
import pytest
from customer_page import Offered, Workshop
from nginx_process import Nginx, free_port
from proposal_case import today
from public_case import bench_routes
from server_client import MARK, client_of
from server_process import Running, started
from talk_case import favourite, note, said

from server.web.links import WRONG_LINKS

pytestmark = [pytest.mark.long, pytest.mark.slow]

IDLE, HALF_HEADS, SLOW_BODIES = 1000, 100, 100
GONE_S = 12.0
GOOD_S = 1.0
DRIP_S = 3.0
"""Time between two bytes of a slow client."""
FORGED = {
    "X-Forwarded-For": "127.0.0.1",
    "X-Forwarded-Host": "127.0.0.1",
    "X-Forwarded-Proto": "http",
    "X-Real-IP": "127.0.0.1",
    "Forwarded": "for=127.0.0.1;host=127.0.0.1;proto=http",
    "Via": "1.1 here",
}


@dataclass
class Site:
    """A server with customers' pages behind nginx."""

    server: Running
    nginx: Nginx
    listener_port: int

    @property
    def url(self) -> str:
        return self.nginx.public_url

    @property
    def port(self) -> int:
        return int(self.url.rpartition(":")[2])

    def trust(self) -> ssl.SSLContext:
        """Return what trusts nginx's certificate."""
        return ssl.create_default_context(cafile=str(self.nginx.cert))

    def customer(self, address: str = "127.0.0.1") -> httpx2.Client:
        """Return a customer's browser at an address of this machine."""
        transport = httpx2.HTTPTransport(verify=self.trust(), local_address=address)
        headers = {**MARK, "Origin": self.url}
        return httpx2.Client(base_url=self.url, headers=headers, transport=transport, timeout=30.0)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Start a server, and nginx with the printed site in front of it."""
    folder, listener_port = tmp_path_factory.mktemp("site"), free_port()
    nginx_folder = tmp_path_factory.mktemp("nginx")
    nginx = Nginx(nginx_folder, f"https://127.0.0.1:{free_port()}", listener_port)
    words = ("demo", "--public-url", nginx.public_url, "--public-port", str(listener_port))
    server = started(folder, *words)
    try:
        yield Site(server, nginx.start(), listener_port)
    finally:
        nginx.stop()
        server.stop()
        print(server.printed(), nginx.logged()[-3000:])


@pytest.fixture(scope="module")
def offered(site: Site) -> Offered:
    """Make a proposal with its clips."""
    return Workshop.at(site.server).propose(takes=("demo:e_slide",), labels=("One", "Two")).ready()


def test_a_customer_listens_writes_and_signs_through_it(site: Site, offered: Offered) -> None:
    token = offered.link.removeprefix("/p/")
    api = f"/api/p/{token}"
    with site.customer() as customer:
        page = customer.get(offered.link)
        assert page.status_code == 200
        assert page.headers["strict-transport-security"].startswith("max-age=")
        assert page.headers["cross-origin-opener-policy"] == "same-origin"
        offer = customer.get(api).json()
        clip = customer.get(next(iter(offer["items"][0]["clips"].values()))["mp3"])
        assert clip.status_code == 200
        assert len(clip.content) > 10_000
        body = said(favourite(2), note("ä", 1))
        assert customer.post(f"{api}/operations", json=body).status_code == 200
        form = {"wiring": 1, "name": "A. B.", "date": today(), "confirm": True}
        assert customer.post(f"{api}/signoff", json=form).status_code == 201
        assert customer.get(f"{api}/record").status_code == 200
        too_large = customer.post(f"{api}/operations", content=b"[" * (80 << 10))
        assert too_large.status_code == 413
        for answer in (page, too_large):
            assert "set-cookie" not in answer.headers
    assert offered.seen()["signoff"]["name"] == "A. B."
    assert token not in site.nginx.logged()
    assert token not in site.server.printed()


def test_nothing_of_the_bench_is_behind_it(site: Site, tmp_path: Path) -> None:
    routes = list(bench_routes(client_of(tmp_path).app))  # type: ignore[arg-type]
    assert len(routes) > 80
    with site.customer() as customer:
        for method, path in routes:
            for headers in ({}, FORGED):
                assert customer.request(method, path, headers=headers).status_code == 404, path
        for headers in ({"Host": "evil.example"}, {"Origin": "https://evil.example"}):
            for path in ("/p/x", "/api/p/x", "/web/js/customer.js"):
                assert customer.get(path, headers=headers).status_code == 403
    with httpx2.Client(base_url=f"http://127.0.0.1:{site.server.port}") as direct:
        for name, value in FORGED.items():
            assert direct.get("/api/commissions", headers={name: value}).status_code == 403


def test_one_visitors_wrong_links_lock_nobody_else_out(site: Site, offered: Offered) -> None:
    with site.customer("127.0.0.3") as guesser, site.customer("127.0.0.4") as other:
        for n in range(WRONG_LINKS + 1):
            forged = {"X-Forwarded-For": f"198.51.100.{n}"}
            last = guesser.get(f"/api/p/guess{n}", headers=forged).status_code
        assert last == 429
        assert other.get(f"/api{offered.link}").status_code == 200
        assert other.get(f"/api{offered.link}", headers={"X-Forwarded-For": "127.0.0.3"}).status_code == 200


def test_plain_http_is_led_to_https_and_logs_no_link(tmp_path: Path) -> None:
    """The site of an address without a port, on free ports instead of 80 and 443."""
    ports = {"80": free_port(), "443": free_port()}
    nginx = Nginx(tmp_path, "https://127.0.0.1", free_port(), ports).start()
    try:
        for path in ("/p/some-token?a=1", "/api/p/some-token", "/"):
            led = httpx2.get(f"http://127.0.0.1:{ports['80']}{path}", timeout=30.0)
            assert (led.status_code, led.headers["location"]) == (301, f"https://127.0.0.1{path}")
        renewal = f"http://127.0.0.1:{ports['80']}/.well-known/acme-challenge/none"
        assert httpx2.get(renewal, timeout=30.0).status_code == 404  # a file, led nowhere
        trust = ssl.create_default_context(cafile=str(nginx.cert))
        gone = httpx2.get(f"https://127.0.0.1:{ports['443']}/p/some-token", verify=trust, timeout=30.0)
        assert gone.status_code == 502  # no server behind it
    finally:
        nginx.stop()
    assert "some-token" not in nginx.logged()


# --- Floods


@dataclass
class Flood:
    """Idle and slow clients, and how long the server kept each."""

    port: int
    host: str
    trust: ssl.SSLContext | None
    kept_s: dict[str, list[float]] = field(default_factory=dict)
    opened: int = 0

    def sent_by(self, kind: str) -> bytes:
        """Return what a client of a kind begins with."""
        own = f"Host: {self.host}\r\nOrigin: https://{self.host}\r\n"
        if kind == "half head":
            return f"GET /p/x HTTP/1.1\r\n{own}X-Half: ".encode()
        if kind == "second half":
            return f"GET /web/icon.svg HTTP/1.1\r\n{own}\r\nGET /p/x HTTP/1.1\r\n{own}X-Half: ".encode()
        head = (
            f"POST /api/p/x/operations HTTP/1.1\r\n{own}X-Presolder: 1\r\nContent-Type: application/json\r\n"
        )
        return f"{head}Content-Length: 1000\r\n\r\n[".encode()

    async def client(self, kind: str) -> None:
        """Be one client until the connection ends."""
        slow = kind != "idle"
        reader, writer = await asyncio.open_connection(
            "127.0.0.1", self.port, ssl=self.trust if slow else None
        )
        begun = time.monotonic()
        self.opened += 1
        with contextlib.suppress(ConnectionError, ssl.SSLError):
            if slow:
                writer.write(self.sent_by(kind))
            while time.monotonic() - begun < 4 * GONE_S:
                try:
                    async with asyncio.timeout(DRIP_S if slow else 4 * GONE_S):
                        if not await reader.read(65536):
                            break
                except TimeoutError:
                    writer.write(b"x")
                    await writer.drain()
        self.kept_s.setdefault(kind, []).append(time.monotonic() - begun)
        writer.transport.abort()

    async def run(self, good: httpx2.AsyncClient, paths: tuple[str, ...]) -> list[float]:
        """Flood, and return how long good requests took meanwhile, in seconds."""
        kinds = ["idle"] * IDLE + ["half head"] * (HALF_HEADS // 2) + ["second half"] * (HALF_HEADS // 2)
        clients = [asyncio.create_task(self.client(kind)) for kind in (*kinds, *["body"] * SLOW_BODIES)]
        while self.opened < len(clients):
            await asyncio.sleep(0.05)
        took = []
        for _ in range(3):
            for path in paths:
                begun = time.monotonic()
                assert (await good.get(path)).status_code == 200
                took.append(time.monotonic() - begun)
            await asyncio.sleep(1.0)
        await asyncio.gather(*clients)
        return took


@pytest.mark.parametrize("way", ["through nginx", "on the listener itself"])
def test_idle_and_slow_clients_leave_a_good_request_quick_and_are_gone_in_time(
    site: Site, offered: Offered, way: str
) -> None:
    through = way == "through nginx"
    trust = site.trust() if through else None
    flood = Flood(site.port if through else site.listener_port, f"127.0.0.1:{site.port}", trust)

    async def run() -> list[float]:
        transport = httpx2.AsyncHTTPTransport(verify=site.trust(), local_address="127.0.0.2")
        if through:
            flooded = httpx2.AsyncClient(base_url=site.url, transport=transport, timeout=30.0)
        else:
            headers = {"Host": flood.host}
            base = f"http://127.0.0.1:{site.listener_port}"
            flooded = httpx2.AsyncClient(base_url=base, headers=headers, timeout=30.0)
        async with flooded:
            return await flood.run(flooded, (offered.link, f"/api{offered.link}"))

    took = asyncio.run(run())
    kept = {kind: max(times) for kind, times in flood.kept_s.items()}
    print(f"{way}: good requests {max(took):.3f} s at most; kept, s: {kept}")
    assert sum(map(len, flood.kept_s.values())) == IDLE + HALF_HEADS + SLOW_BODIES
    assert max(took) < GOOD_S
    assert max(kept.values()) < GONE_S
