"""Requests about build sheets: the sheet of a draft, its PDF, and its ticks."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Request, Response
from pydantic import StringConstraints

from server.bench.forms import DraftForm, bench_of
from server.commissions import versions
from server.documents.build_sheet_page import sheet_article
from server.documents.build_sheet_words import printed_record, to_tick
from server.sheets import store as ticks
from server.sheets.work import Sheets
from server.web.answers import attached
from server.web.fields import Body
from server.web.per_app import closing, one_per_app

PDF = "application/pdf"
LONGEST_STEP = 4000
Step = Annotated[str, StringConstraints(min_length=1, max_length=LONGEST_STEP)]


router = APIRouter(prefix="/api", tags=["sheets"], lifespan=closing("sheets"))


class SheetForm(Body):
    """Asks for the build sheet of a draft."""

    draft: DraftForm


class PaperForm(SheetForm):
    """Asks for the build sheet of a draft on paper."""

    paper: Literal["a4", "letter"] = "a4"


class TickForm(Body):
    """Says that a step is done or not; `text` is what the sheet says of it."""

    step: Step
    text: Annotated[str, StringConstraints(max_length=LONGEST_STEP)]
    done: bool


def _sheets(request: Request) -> Sheets:
    """The server's sheets, from the first one on."""
    return one_per_app(request.app, "sheets", Sheets)


@router.post("/draft/sheet")
def get_sheet(form: SheetForm, request: Request) -> dict[str, Any]:
    """The build sheet as data and as HTML, and which of its ticks hold.

    A draft with sketches has no lugs to solder: the answer names them and nothing else.
    """
    draft, store = form.draft.draft(), request.app.state.store
    parsed = bench_of(request).read(draft)
    if parsed.wiring.sketches:
        return {"sketches": list(parsed.wiring.sketches)}
    sheet = _sheets(request).sheet(parsed.text)
    wiring = str(versions.get_version(store, draft.version)["wiring_id"])
    found = ticks.judge_ticks(store, wiring, to_tick(printed_record(sheet)))
    return {
        "sketches": [],
        "record": sheet.record,
        "html": sheet_article(sheet),
        "wiring": wiring,
        "ticks": {"done": found.done, "changed": found.changed, "gone": found.gone},
    }


@router.post(
    "/draft/sheet/pdf", response_class=Response, responses={200: {"content": {"application/pdf": {}}}}
)
def get_pdf(form: PaperForm, request: Request) -> Response:
    """The build sheet as a PDF document."""
    sheets, text = _sheets(request), bench_of(request).read(form.draft.draft()).text
    name = f"build-sheet-{sheets.sheet(text).record['name']}.pdf"
    return Response(
        sheets.pdf(text, form.paper),
        media_type=PDF,
        headers={"Content-Disposition": attached(name), "Cache-Control": "no-store"},
    )


@router.post("/draft/sheet/fit")
def get_fit(form: PaperForm, request: Request) -> dict[str, Any]:
    """How many pages the build sheet has, and the size of its text in points."""
    fit = _sheets(request).fit(bench_of(request).read(form.draft.draft()).text, form.paper)
    return {"pages": fit.pages, "size_pt": fit.size_pt, "large": fit.is_large}


@router.put("/wirings/{wiring}/ticks")
def put_tick(request: Request, wiring: str, tick: TickForm) -> dict[str, bool]:
    """Tick a step off, or take its tick away."""
    ticks.tick(request.app.state.store, wiring, tick.step, tick.text, done=tick.done)
    return {"kept": True}


@router.delete("/wirings/{wiring}/ticks")
def delete_ticks(request: Request, wiring: str) -> dict[str, bool]:
    """Begin the sheet of a wiring anew."""
    ticks.clear_ticks(request.app.state.store, wiring)
    return {"kept": True}
