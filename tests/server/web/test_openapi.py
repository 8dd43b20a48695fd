"""Requests that the API's description allows, and many that it does not, break nothing."""

from __future__ import annotations

import contextlib
import logging
from typing import Any

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from server_client import MARK, client_of

HEADERS = {**MARK, "Host": "127.0.0.1"}
WAITS = ("/api/proposals/{proposal}/events", "/api/listings/events")
"""Routes that answer when something happens: aimed at real ids they would wait, as they should."""
MODES = (schemathesis.GenerationMode.POSITIVE, schemathesis.GenerationMode.NEGATIVE)
"""Requests that match the description, and requests that do not."""
LONGEST_S = 60.0
"""Of an answer: the faults of a wiring are computed once, which may take 20 s."""
PAGES = ("GET /api/p/{token}/receipt",)
"""What answers with a page for people, most refusals too."""
HOW = settings(
    max_examples=8,
    deadline=None,
    derandomize=True,
    database=None,
    phases=(Phase.generate,),
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    """Open an application on the demo."""
    return client_of(tmp_path_factory.mktemp("api"), demo=True)


@pytest.fixture(scope="module")
def known(client: TestClient) -> dict[str, str]:
    """Return existing ids by their names in paths and bodies."""
    commission = client.get("/api/commissions").json()[0]
    wiring = commission["wirings"][0]
    item = {"version": wiring["version"], "position": "1", "knobs": {}, "switches": {}, "label": "One"}
    proposal = client.post(
        f"/api/commissions/{commission['id']}/proposals",
        json={"title": "Two", "items": [item], "takes": ["demo:e_slide"], "expires_days": 3},
    ).json()
    wanted = {"title": "All", "wirings": [{"version": wiring["version"]}], "takes": ["demo:e_slide"]}
    listing = client.post("/api/listings", json=wanted).json()
    return {
        "commission": commission["id"],
        "wiring": wiring["id"],
        "version": wiring["version"],
        "base": wiring["version"],
        "proposal": proposal["id"],
        "token": proposal["link"].rstrip("/").rpartition("/")[2],
        "take": "demo:e_slide",
        "position": "1",
        "listing": listing["id"],
    }


def aimed(part: Any, known: dict[str, str]) -> Any:
    """Return the same request with existing ids in place of invented ones."""
    if isinstance(part, list):
        return [aimed(one, known) for one in part]
    if not isinstance(part, dict):
        return part
    return {key: known[key] if key in known else aimed(one, known) for key, one in part.items()}


def variants(case: Any, known: dict[str, str]) -> list[Any]:
    """Return a request as generated, and with existing ids."""
    if case.operation.path in WAITS:
        return [case]
    other = case.operation.Case(
        method=case.method,
        path_parameters=aimed(case.path_parameters, known),
        query=aimed(case.query, known),
        body=aimed(case.body, known),
        media_type=case.media_type,
    )
    return [case, other]


@pytest.mark.long
def test_no_request_breaks_the_server(
    client: TestClient, known: dict[str, str], caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.ERROR)
    schema = schemathesis.openapi.from_asgi("/api/openapi.json", client.app, headers=HEADERS)
    broken: dict[str, str] = {}
    tried: dict[str, list[int]] = {}
    for result in schema.get_all_operations():
        operation = result.ok()

        def attempt(case: Any) -> None:
            for one in variants(case, known):
                caplog.clear()
                answer = one.call(headers=HEADERS, timeout=LONGEST_S)
                name = f"{one.method} {one.operation.path}"  # the case knows its own operation
                tried.setdefault(name, []).append(answer.status_code)
                if answer.status_code >= 500:
                    broken[name] = f"{one.as_curl_command()}\n{caplog.text[-1500:]}"
                is_page = name in PAGES and "html" in answer.headers["content-type"][0]
                if 400 <= answer.status_code < 500 and not is_page:
                    assert answer.json()["problems"], name

        HOW(given(operation.as_strategy(generation_mode=MODES[0]))(attempt))()
        with contextlib.suppress(Unsatisfiable):  # a route without parameters cannot refuse
            HOW(given(operation.as_strategy(generation_mode=MODES[1]))(attempt))()
    assert not broken, "\n\n".join(broken.values())
    assert len(tried) >= 30
    assert all(len(statuses) > 1 for statuses in tried.values())
    answered = [name for name, statuses in tried.items() if min(statuses) < 300]
    assert len(answered) > len(tried) / 2, "too few requests with existing ids were answered"


def test_the_description_names_every_room(client: TestClient) -> None:
    """Undescribed routes would not be tried."""
    paths = client.get("/api/openapi.json").json()["paths"]
    rooms = {path.split("/")[2] for path in paths}
    own = {"access", "commissions", "starters", "versions", "wirings", "takes"}
    assert rooms >= own | {"draft", "stems", "proposals", "p", "listings"}
    assert len(paths) >= 25
