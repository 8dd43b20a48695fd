"""The customers' listener without a proxy: it speaks TLS itself."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest
from certificate import make_certificate
from nginx_process import free_port
from server_process import Running, started

from server.web.connections import HEADERS_S

pytestmark = [pytest.mark.long, pytest.mark.slow]

PATIENCE_S = 30.0


@pytest.fixture
def public_url() -> str:
    return f"https://127.0.0.1:{free_port()}"


@pytest.fixture
def server(tmp_path: Path, public_url: str) -> Iterator[Running]:
    """Start a server whose customers come to all addresses of the machine."""
    cert, key = make_certificate(tmp_path)
    port = public_url.rpartition(":")[2]
    words = ("--public-url", public_url, "--public-host", "0.0.0.0", "--public-port", port)
    running = started(tmp_path, "demo", *words, "--cert", str(cert), "--cert-key", str(key))
    try:
        yield running
    finally:
        running.stop()
        print(running.printed())


def test_customers_come_by_tls_and_a_silent_handshake_is_cut_off(
    server: Running, public_url: str, tmp_path: Path
) -> None:
    port = int(public_url.rpartition(":")[2])
    silent = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
    trust = ssl.create_default_context(cafile=str(tmp_path / "cert.pem"))
    with httpx2.Client(base_url=public_url, verify=trust, timeout=PATIENCE_S) as customer:
        page = customer.get("/p/x")
        assert page.status_code == 200
        assert page.headers["cross-origin-opener-policy"] == "same-origin"
        for path in ("/", "/api/commissions", "/api/access", "/api/openapi.json"):
            assert customer.get(path).status_code == 404
        assert customer.get("/p/x", headers={"Host": "evil.example"}).status_code == 403
    with pytest.raises(httpx2.TransportError):
        httpx2.get(f"http://127.0.0.1:{port}/p/x", timeout=PATIENCE_S)
    silent.settimeout(HEADERS_S + 15.0)  # the library's own limit is 60 s
    with silent:
        assert silent.recv(1) == b""
    assert server.url.startswith("http://127.0.0.1:")  # the bench's name is not the certificate's
    assert httpx2.get(f"{server.url}/api/access", timeout=PATIENCE_S).status_code == 200
    assert f"Customers come to {public_url}, which is to lead to https://" in server.printed()
    assert "Warning" not in server.printed()
