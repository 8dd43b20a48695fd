"""`presolder demo` and `presolder serve` as a person starts them."""

from __future__ import annotations

import httpx2
from server_started import Running


def test_the_demo_answers_with_its_two_commissions(running_server: Running) -> None:
    found = httpx2.get(f"{running_server.url}/api/commissions").json()
    assert [one["title"] for one in found] == ["Baritone, 686 mm", "Twelve-string with toggles"]
    assert [len(one["wirings"]) for one in found] == [2, 1]
    assert running_server.seconds_to_start < 5.0
