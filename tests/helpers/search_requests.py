"""Start and follow searches through the API, as the page does."""

from __future__ import annotations

import time
from typing import Any

from fastapi.testclient import TestClient
from places import DEMO

SKETCH = DEMO / "baritone_sketch.yaml"


def demo_versions(client: TestClient) -> dict[str, str]:
    """Return the demo's versions: the baritone's `rotary`, with a switch, and `sketch`; `twelve`."""
    found = {one["title"]: one["wirings"] for one in client.get("/api/commissions").json()}
    rows, (twelve,) = found["Baritone, 686 mm"], found["Twelve-string with toggles"]
    return {"rotary": rows[0]["version"], "sketch": rows[1]["version"], "twelve": twelve["version"]}


def asked(client: TestClient, where: str, version: str, edits: Any = (), **options: Any) -> dict[str, Any]:
    """Start a search and return its first state."""
    body = {"draft": {"version": version, "edits": list(edits)}, "options": options}
    answer = client.post(f"/api/{where}", json=body)
    assert answer.status_code == 202, answer.text
    found: dict[str, Any] = answer.json()
    return found


def followed(
    client: TestClient, task: dict[str, Any], key: str = "", within_s: float = 40.0
) -> dict[str, Any]:
    """Follow a search until it reports `key`, or to its end."""
    until = time.monotonic() + within_s
    while task["state"] == "running" and not (key and key in task):
        assert time.monotonic() < until, task
        task = client.get(f"/api/searches/{task['id']}", params={"after": task["after"]}).json()
    return task
