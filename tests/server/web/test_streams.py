"""Large answers: shared, not copied; few per link at once; rates counted before bodies."""

from __future__ import annotations

import asyncio
import socket
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any

import httpx2
import numpy as np
import pytest
from fastapi import FastAPI, Request
from server_client import client_of
from server_process import Running

from server.refusals import TooOften, Unknown
from server.web.links import WRITTEN, WRONG_LINKS, check_link
from server.web.streams import PIECE_BYTES, ArrayResponse, Transfers


def sent_by(response: ArrayResponse) -> list[dict[str, Any]]:
    """Return the messages of an answer."""
    messages: list[dict[str, Any]] = []

    async def send(message: Any) -> None:
        messages.append(message)

    async def receive() -> Any:
        return {"type": "http.disconnect"}

    asyncio.run(response({"type": "http"}, receive, send))
    return messages


@pytest.mark.parametrize("shape", [(0,), (1, 1), (2, PIECE_BYTES // 8), (3, PIECE_BYTES // 4 + 1)])
def test_an_array_arrives_whole_in_pieces(shape: tuple[int, ...]) -> None:
    samples = np.random.default_rng(1).normal(size=shape).astype(np.float32)
    start, *pieces = sent_by(ArrayResponse(samples, {"ETag": "x"}))
    headers = dict(start["headers"])
    assert headers[b"content-length"] == str(samples.nbytes).encode()
    assert headers[b"etag"] == b"x"
    body = b"".join(piece["body"] for piece in pieces)
    assert body == samples.tobytes()
    assert max(len(piece["body"]) for piece in pieces) <= PIECE_BYTES
    assert [piece["more_body"] for piece in pieces] == [True] * (len(pieces) - 1) + [False]


def test_transfers_of_one_name_wait_for_their_turn_and_too_many_are_refused() -> None:
    """No clock decides: the transfers end when they are told to."""

    async def run() -> tuple[int, int, list[str]]:
        over, later_over = asyncio.Event(), asyncio.Event()
        running, most, refused = 0, 0, []

        async def one(transfers: Transfers, name: str, end: asyncio.Event) -> None:
            nonlocal running, most
            try:
                async with transfers.hold(name):
                    running += 1
                    most = max(most, running)
                    await end.wait()
                    running -= 1
            except TooOften:
                refused.append(name)

        patient = Transfers(2, waiting=2, wait_s=60.0)
        tasks = [asyncio.create_task(one(patient, "a", over)) for _ in range(5)]
        while not refused:
            await asyncio.sleep(0)
        over.set()
        await asyncio.gather(*tasks)
        five = len(refused)
        hasty = Transfers(2, waiting=2, wait_s=0.02)
        tasks = [asyncio.create_task(one(hasty, name, later_over)) for name in "bbbc"]
        while len(refused) == five:
            await asyncio.sleep(0.01)
        later_over.set()
        await asyncio.gather(*tasks)
        assert not patient._slots
        assert not hasty._slots
        return five, most, refused[five:]

    five, most, later = asyncio.run(run())
    assert five == 1  # two run, two wait, the fifth is refused
    assert most == 3  # two of one name and one of another
    assert later == ["b"]  # its turn did not come in time


@pytest.mark.slow
def test_readers_that_do_not_read_cost_no_memory(shared_server: Running) -> None:
    """Twelve readers of one demo take, whose stems alone are some 20 MB."""
    with httpx2.Client(base_url=shared_server.url, timeout=120.0) as client:
        commissions = client.get("/api/commissions").json()
        version = commissions[0]["wirings"][0]["version"]
        take = client.get("/api/takes").json()[0]["id"]
        path = f"/api/stems?version={version}&take={take}"
        size = len(client.get(path).content)
    assert size > 2_000_000
    before = _resident_bytes(shared_server)
    with ExitStack() as held:
        for _ in range(12):
            reader = held.enter_context(socket.create_connection(("127.0.0.1", shared_server.port), 30))
            reader.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            reader.sendall(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
            assert reader.recv(20).startswith(b"HTTP/1.1 200")
        assert _resident_bytes(shared_server) - before < 2 * size


def _resident_bytes(server: Running) -> int:
    assert server.process is not None
    status = Path(f"/proc/{server.process.pid}/status").read_text()
    return 1024 * int(status.partition("VmRSS:")[2].split()[0])


def test_junk_to_a_link_is_counted_before_it_is_read(tmp_path: Path) -> None:
    client = client_of(tmp_path)
    statuses = [
        client.post("/api/p/none/operations", content=b"junk").status_code for _ in range(WRITTEN + 1)
    ]
    assert set(statuses[:WRITTEN]) == {422}
    assert statuses[-1] == 429


def test_only_a_wrong_link_counts_as_one() -> None:
    """Whoever has a link may ask for what is not there."""
    scope = {"type": "http", "app": FastAPI(), "method": "GET", "headers": [], "client": ("192.0.2.1", 1)}
    request = Request(scope)

    def ask(what: str) -> None:
        with suppress(Unknown), check_link(request):
            raise Unknown(what, "'x'", "another")

    for _ in range(WRONG_LINKS + 1):
        ask("clip")
    with check_link(request):
        pass
    for _ in range(WRONG_LINKS):
        ask("this link")
    with pytest.raises(TooOften), check_link(request):
        pass
