"""Idle connections, and many of them: the server stays usable and logs little."""

from __future__ import annotations

import resource
import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import httpx2
import pytest
from server_process import Running, started

from server.web import connections

HALF = b"GET /api/commissions HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Half:"
WHOLE = b"GET /api/access HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
FEW_FILES = 300


def connect(server: Running, sent: bytes = b"") -> socket.socket:
    """Open a connection and send something."""
    found = socket.create_connection(("127.0.0.1", server.port), timeout=30)
    found.sendall(sent)
    return found


def seconds_until_closed(connection: socket.socket, longest_s: float = 40.0) -> float:
    """Return how long the server keeps a connection; infinite if it does not close it."""
    begun = time.monotonic()
    connection.settimeout(longest_s)
    try:
        while connection.recv(65536):
            pass
    except TimeoutError:
        return float("inf")
    except ConnectionError:
        pass
    return time.monotonic() - begun


@pytest.mark.slow
@pytest.mark.parametrize(
    "sent",
    [
        pytest.param(b"", marks=pytest.mark.long, id="nothing"),
        pytest.param(HALF, marks=pytest.mark.long, id="half a head"),
        pytest.param(WHOLE + HALF, id="a second half"),
    ],
)
def test_a_head_that_never_ends_is_cut_off(shared_server: Running, sent: bytes) -> None:
    with connect(shared_server, sent) as connection:
        assert seconds_until_closed(connection) < connections.HEADERS_S + 15.0


@pytest.mark.slow
@pytest.mark.long
def test_a_body_that_never_ends_is_answered(shared_server: Running) -> None:
    head = b"POST /api/access HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Presolder: 1\r\nContent-Length: 100\r\n\r\nabc"
    with connect(shared_server, head) as connection:
        connection.settimeout(60)
        assert connection.recv(100).startswith(b"HTTP/1.1 408 ")


@pytest.fixture
def small_server(tmp_path: Path) -> Iterator[Running]:
    """Start a server with few open files, hard limit included: children inherit it."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (FEW_FILES, hard))
    try:
        server = started(tmp_path)
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
    try:
        yield server
    finally:
        server.stop()


def test_a_thousand_idle_connections_leave_room_for_a_good_request(small_server: Running) -> None:
    """More than one address may open; the server raised its limit of files at the start."""
    with ExitStack() as held:
        for _ in range(1000):
            held.enter_context(connect(small_server, HALF))
        # from another address of this machine, as another person would come
        transport = httpx2.HTTPTransport(local_address="127.0.0.2")
        with httpx2.Client(transport=transport) as client:
            assert client.get(f"{small_server.url}/api/access", timeout=20.0).status_code == 200
    assert small_server.log.stat().st_size < 20_000


def test_the_limit_of_files_is_raised() -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (min(256, hard), hard))
        most = connections.raise_file_limit()
        now, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
        assert now == max(min(256, hard), min(hard, connections.MOST_FILES))
        assert most == now - connections.SPARE_FILES
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def test_failed_accepts_are_logged_once_a_minute(caplog: pytest.LogCaptureFixture) -> None:
    import asyncio

    loop = asyncio.new_event_loop()
    try:
        connections.log_failed_accepts_once_a_minute(loop)
        for _ in range(2000):
            loop.call_exception_handler(
                {"message": connections.ACCEPT_FAILED, "exception": OSError(24, "Too many open files")}
            )
        assert len(caplog.records) == 1
        assert "Too many open files" in caplog.text
        loop.call_exception_handler({"message": "something else"})
        assert "something else" in caplog.text
    finally:
        loop.close()
