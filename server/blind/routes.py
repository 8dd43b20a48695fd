"""Requests about blind tests: begin, listen, answer, give up, list.

What X is in a trial never leaves the server before the last answer, so a listener cannot learn
it by accident. Whoever holds the server's files and means to cheat can.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Request, Response
from pydantic import Field

from dsp.chain.ways import WAYS
from dsp.sound.blind_odds import LENGTHS, fewest_right
from server.bench.forms import HearingForm, bench_of
from server.blind import store as blind_tests
from server.blind.work import LONGEST_S, BlindTests, measure_record, test_json
from server.web.fields import Body, Id, WayName
from server.web.per_app import closing, one_per_app

Seconds = Annotated[float, Field(ge=0.0, le=86_400.0, allow_inf_nan=False)]


router = APIRouter(prefix="/api", tags=["blind tests"], lifespan=closing("blind_tests"))


class NewBlindTest(Body):
    """A new test; without an end the stretch is as long as it may be."""

    sounds: Annotated[list[HearingForm], Field(min_length=2, max_length=2)]
    take: Id
    trials: int
    from_s: Seconds = 0.0
    to_s: Seconds | None = None
    way: WayName = "direct"


class Answer(Body):
    """The sound that the listener takes X for."""

    answer: Literal["A", "B"]


def _tests(request: Request) -> BlindTests:
    state = request.app.state
    return one_per_app(
        request.app, "blind_tests", lambda: BlindTests(state.store, state.library, bench_of(request))
    )


def _with_addresses(test: dict[str, Any]) -> dict[str, Any]:
    """Replace the names of the present trial's clips by their addresses."""
    if test["trial"]:
        base = f"/api/blind-tests/{test['id']}/clips"
        test["trial"]["clips"] = {k: f"{base}/{name}" for k, name in test["trial"]["clips"].items()}
    return test


@router.get("/commissions/{commission}/blind-tests")
def list_blind_tests(request: Request, commission: str) -> dict[str, Any]:
    """Every test of a commission, newest first, and what a test may be."""
    tests = _tests(request)
    rows = blind_tests.of_commission(request.app.state.store, commission)
    found = [test_json(one, tests.computed(one)) for one in rows]
    lengths = [{"trials": trials, "needed": fewest_right(trials)} for trials in LENGTHS]
    return {
        "tests": found, "lengths": lengths, "longest_s": LONGEST_S, "measure": measure_record(found)
    }  # fmt: skip


@router.post("/commissions/{commission}/blind-tests", status_code=201)
def begin_blind_test(request: Request, commission: str, new: NewBlindTest) -> dict[str, Any]:
    """Begin a test; its sounds are made meanwhile."""
    tests = _tests(request)
    sounds = [one.hearing() for one in new.sounds]
    test = tests.begin(
        commission, sounds, new.take,
        from_s=new.from_s, to_s=new.to_s, trials=new.trials, way=WAYS[new.way],
    )  # fmt: skip
    return _with_addresses(tests.get(test))


@router.get("/blind-tests/{test}")
def get_blind_test(request: Request, test: str) -> dict[str, Any]:
    """A test with its present trial; with its score once it is done."""
    return _with_addresses(_tests(request).get(test))


@router.put("/blind-tests/{test}/answers/{number}")
def put_answer(request: Request, test: str, number: int, answer: Answer) -> dict[str, Any]:
    """Answer the present trial; the same answer again changes nothing."""
    return _with_addresses(_tests(request).answer(test, number, answer.answer))


@router.post("/blind-tests/{test}/give-up")
def give_up_blind_test(request: Request, test: str) -> dict[str, Any]:
    """End a test before its last trial; what X was stays secret."""
    return _with_addresses(_tests(request).give_up(test))


@router.get(
    "/blind-tests/{test}/clips/{name}",
    response_class=Response,
    responses={200: {"content": {"audio/wav": {}}}},
)
def get_blind_clip(request: Request, test: str, name: str) -> Response:
    """A clip of the present trial: nothing about its answer tells which."""
    clip = _tests(request).clip(test, name)
    return Response(clip, media_type="audio/wav", headers={"Cache-Control": "no-store"})
