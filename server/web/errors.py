"""Answer every refusal as JSON of one form: {"problems": [{where, got, allowed, hint}]}."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from dsp.errors import InputError, Problem
from server.refusals import STATUS

LONGEST_ECHO = 200
"""Most characters of a request that an answer repeats."""
MOST_PROBLEMS = 20
"""Most problems that an answer lists; it counts the rest."""
HEADERS: dict[int, dict[str, str]] = {
    HTTPStatus.TOO_MANY_REQUESTS: {"Retry-After": "60"},
    HTTPStatus.REQUEST_TIMEOUT: {"Connection": "close"},
}
"""What a refusal says besides; whoever sent half a body is not waited for (RFC 9110, section 15.5.9)."""


def install(app: FastAPI) -> None:
    """Install the handlers of every kind of refusal."""
    app.add_exception_handler(InputError, _refused)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, answer_http)
    app.add_exception_handler(ClientDisconnect, _left)


def problems_json(problems: Iterable[Problem]) -> dict[str, list[dict[str, str]]]:
    """Return problems as JSON: the first twenty, then the number of others."""
    found = list(problems)
    shown = [_problem_json(problem) for problem in found[:MOST_PROBLEMS]]
    if left := len(found) - len(shown):
        more = Problem("the rest", f"{left} more problems", "a request without these problems")
        shown.append(_problem_json(more))
    return {"problems": shown}


def answer_to(error: InputError) -> JSONResponse:
    """Return the answer to a refusal."""
    status = next(STATUS[kind] for kind in type(error).__mro__ if kind in STATUS)
    headers = HEADERS.get(status)
    newer = getattr(error, "newer", None)
    body: dict[str, Any] = {**problems_json(error.problems), **({} if newer is None else {"newer": newer})}
    return JSONResponse(body, status, headers)


def _problem_json(problem: Problem) -> dict[str, str]:
    texts = {"where": problem.where, "got": problem.got, "allowed": problem.allowed, "hint": problem.hint}
    return {key: _sendable(text) for key, text in texts.items()}


def _sendable(text: str) -> str:
    """Cut a text to 1,000 characters and write half characters as escapes."""
    whole = text.encode("utf-8", "backslashreplace").decode()
    return whole if len(whole) <= 5 * LONGEST_ECHO else f"{whole[: 5 * LONGEST_ECHO]}…"


async def _refused(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, InputError)
    return answer_to(error)


async def _invalid(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, RequestValidationError)
    return JSONResponse(problems_json(of_pydantic(one) for one in error.errors()), 422)


def of_pydantic(one: Mapping[str, Any]) -> Problem:
    """Return a problem found by pydantic in our form."""
    where = ".".join(str(part) for part in one["loc"] if part not in ("body", "query", "path", "header"))
    got = "nothing" if one["type"] == "missing" else repr(one.get("input"))[:LONGEST_ECHO]
    return Problem(where or "the request", got, str(one["msg"]))


async def answer_http(request: Request, error: Exception) -> JSONResponse:
    """Return the answer to a request that no handler takes."""
    assert isinstance(error, HTTPException)
    got = f"{request.method} {request.url.path}"
    allowed = {404: "an address that exists", 405: "another method"}.get(error.status_code, str(error.detail))
    problem = Problem("the request", "a path" if error.status_code == 404 else got[:LONGEST_ECHO], allowed)
    return JSONResponse(problems_json([problem]), error.status_code, error.headers)


async def _left(request: Request, error: Exception) -> JSONResponse:
    """The sender has gone; nobody reads this."""
    return JSONResponse(problems_json([Problem("the body", "an end too early", "a whole body")]), 400)


def failure() -> JSONResponse:
    """Return the answer to an error of our own; the log has the details."""
    problem = Problem("the server", "an error of its own", "try again; the server's log says more")
    return JSONResponse(problems_json([problem]), 500)
