"""Requests of the bench about answers: take in, list, sign after asking, verify."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Request, Response
from pydantic import Field, StringConstraints

from server.answers import receipts, taking_in, views
from server.answers.content import MOST_WISHES
from server.answers.sealing import MOST_CHARACTERS
from server.database.store import Store
from server.proposals.work import wake_keeper
from server.web.fields import Body, Name

LONGEST_BODY = 4 * MOST_CHARACTERS
"""Characters, white space included."""
router = APIRouter(prefix="/api", tags=["answers"])


class AnswerForm(Body):
    """A sealed answer as it came; white space does not matter."""

    text: Annotated[str, StringConstraints(max_length=LONGEST_BODY)]


class Word(Body):
    """How the customer confirmed a signature, as by telephone."""

    word: Name


class AnsweredWish(Body):
    """A wish of an answer that is to become a sound, by its place from 0."""

    place: Annotated[int, Field(ge=0, lt=MOST_WISHES)]


def _store(request: Request) -> Store:
    store: Store = request.app.state.store
    return store


@router.post("/answers", status_code=201)
def take_answer_in(request: Request, response: Response, form: AnswerForm) -> dict[str, Any]:
    """Take an answer in; `again` says that it was taken in before."""
    sha256, again = taking_in.take_in(_store(request), form.text)
    response.status_code = 200 if again else 201
    return {**views.get_answer(_store(request), sha256), "again": again}


@router.get("/commissions/{commission}/answers")
def list_answers(request: Request, commission: str) -> list[dict[str, Any]]:
    """Every answer to the proposals of a commission, newest first."""
    return views.list_answers(_store(request), commission)


@router.post("/answers/{sha256}/signoff")
def sign_after_asking(request: Request, sha256: str, confirmed: Word) -> dict[str, Any]:
    """Sign off with a signature in doubt, once the customer has confirmed it."""
    taking_in.sign_after_asking(_store(request), sha256, confirmed.word.strip())
    return views.get_answer(_store(request), sha256)


@router.post("/answers/{sha256}/variants")
def make_sound(request: Request, sha256: str, new: AnsweredWish) -> dict[str, Any]:
    """Make a wish of an answer a sound, unless its sound is there."""
    if taking_in.make_sound(_store(request), sha256, new.place):
        wake_keeper(request.app.state)
    return views.get_answer(_store(request), sha256)


@router.get("/answers/{sha256}/receipt")
def get_receipt(request: Request, sha256: str) -> dict[str, str]:
    """What the workshop has of an answer, sealed for its file."""
    return {"receipt": receipts.make_receipt(_store(request), sha256)}


@router.get("/proposals/{proposal}/verify")
def verify_signoff(request: Request, proposal: str) -> dict[str, Any]:
    """Whether sign-off, wirings, clips and answer are as they were signed."""
    problems = views.verify(_store(request), request.app.state.settings.data, proposal)
    return {"holds": not problems, "problems": problems}
