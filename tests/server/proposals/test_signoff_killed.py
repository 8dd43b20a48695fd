"""The server killed in the middle of sign-offs: whatever it acknowledged is there afterwards, whole."""

from __future__ import annotations

import datetime
import json
import random
import signal
import threading
import time
import urllib.request
from http.client import HTTPException
from pathlib import Path
from typing import Any

import pytest
from proposal_case import Made, made
from server_process import Running

from server.database.store import Store
from server.proposals.signoffs import verify

KILLS = 50
WITHIN = 1.5
"""Times what one sign-off takes here: kills fall before, into and after it, on a busy machine too."""


def sign(url: str, one: Made, acknowledged: dict[str, Any]) -> None:
    """Sign, and note the acknowledgement."""
    body = {
        "wiring": 1,
        "name": one.id,
        "date": datetime.datetime.now(datetime.UTC).date().isoformat(),
        "confirm": True,
    }
    request = urllib.request.Request(
        f"{url}{one.link}/signoff",
        data=json.dumps(body).encode(),
        headers={"X-Presolder": "1", "Content-Type": "application/json"},
        method="POST",
    )
    try:
        with urllib.request.urlopen(request, timeout=10.0) as answer:
            acknowledged[one.id] = json.loads(answer.read())
    except (OSError, ValueError, HTTPException):
        return  # nothing was acknowledged, or not to its end


@pytest.mark.long
def test_an_acknowledged_sign_off_survives_kills(tmp_path: Path) -> None:
    first = made(tmp_path)
    item = [{"version": first.version, "position": "1"}]
    spare, *signing = [first.another(items=item) for _ in range(KILLS + 1)]
    first.render()
    first.store.close()
    rng, acknowledged = random.Random(11), {}
    server = Running(tmp_path / "data", tmp_path / "server.log")
    server.start()
    began = time.monotonic()
    sign(server.url, spare, acknowledged)
    within_s = WITHIN * (time.monotonic() - began)
    server.stop()
    assert acknowledged.pop(spare.id, None), "a sign-off that nothing disturbs"
    for one in signing:
        server.start()
        try:
            thread = threading.Thread(target=sign, args=(server.url, one, acknowledged))
            thread.start()
            time.sleep(rng.uniform(0.0, within_s))
        finally:
            server.stop(signal.SIGKILL)
        thread.join()
    store = Store(tmp_path / "data")
    with store.read() as db:
        kept = {row["proposal_id"]: row["sha256"] for row in db.execute("SELECT * FROM signoffs")}
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    assert {one: answer["sha256"] for one, answer in acknowledged.items()}.items() <= kept.items()
    assert [verify(store, store.folder, one) for one in kept] == [[]] * len(kept)
    print(f"{KILLS} kills: {len(acknowledged)} sign-offs acknowledged, {len(kept)} kept")
    assert len(acknowledged) > 0, "no sign-off was acknowledged in time: the test proves nothing"
    assert len(kept) < KILLS, "no kill came before its sign-off: the test proves little"
