"""The application: storage opened, rooms of the API put together, pages served."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from pathlib import Path

from fastapi import Depends, FastAPI, Request
from fastapi.responses import Response

from server.answers import routes as answers
from server.bench import routes as sounding
from server.bench import socket as live
from server.blind import routes as blind
from server.built import record_routes as built_record
from server.built import routes as built
from server.bundles import routes as bundles
from server.commissions import routes as commissions
from server.commissions.starters import ensure_demo
from server.database.store import Store
from server.listings import page_routes as listing_pages
from server.listings import routes as listings
from server.measurements import routes as measurements
from server.paths import web_folder
from server.proposals import customer_routes as customer
from server.proposals import knob_routes as customer_live
from server.proposals import routes as proposals
from server.searches import routes as range
from server.settings import Public, Settings
from server.sheets import routes as sheets
from server.takes import routes as takes
from server.takes.ahead import AheadPlayer
from server.takes.intake import keep_swept, sweep
from server.takes.library import Library
from server.verifying import routes as verifying
from server.verifying import sensitivity_routes as sensitivity
from server.web import access, errors
from server.web.access import Gate, require_bench
from server.web.admission import BenchAdmission, PublicAdmission
from server.web.guard import Guard
from server.web.pages import READ, CustomerPage, LoadedFiles, Pages, answer_astray
from server.workshop import routes as workshop

CUSTOMER = (customer, customer_live)
"""Rooms of the API for whoever has a link; the customers' own listener has no others."""
OPEN = (access, live, *CUSTOMER, listing_pages)
"""Rooms of the API that look themselves at who comes in."""
BENCH = (
    commissions, takes, sounding, blind, proposals, answers, built, built_record, bundles, listings,
    measurements, range, sensitivity, sheets, verifying, workshop,
)  # fmt: skip
"""Rooms for the bench alone."""


def create_app(settings: Settings) -> FastAPI:
    """The application of a data folder.

    Returns
    -------
    FastAPI
        With ``state.settings``, ``state.store``, ``state.library`` and ``state.gate``.

    Raises
    ------
    InputError
        If the data folder or its database cannot be used.
    """
    store = Store(settings.data)
    if settings.demo:
        ensure_demo(store)

    @contextlib.asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        ahead = AheadPlayer(store, app.state.library)
        if settings.warm:
            ahead.start()
        sweeping = asyncio.create_task(keep_swept(app.state.library))
        yield
        sweeping.cancel()
        ahead.close()
        app.state.library.close()
        store.close()

    app = FastAPI(
        title="Presolder", docs_url=None, redoc_url=None, openapi_url="/api/openapi.json", lifespan=lifespan
    )
    app.state.settings, app.state.store = settings, store
    app.state.library = Library(store, settings.places)
    sweep(app.state.library)
    app.state.gate = Gate(settings, store)
    app.add_middleware(Guard, admission=BenchAdmission(settings))
    errors.install(app)
    for room in OPEN:
        app.include_router(room.router)
    for room in BENCH:
        app.include_router(room.router, dependencies=[Depends(require_bench)])
    _serve_pages(app, web_folder())
    return app


def create_public_app(bench: FastAPI, public: Public) -> FastAPI:
    """The customers' application: their pages and requests alone.

    Parameters
    ----------
    bench : FastAPI
        The application of the data folder, whose storage and limits it shares; run that one too.
    """
    app = FastAPI(title="Presolder", docs_url=None, redoc_url=None, openapi_url=None)
    app.state = bench.state
    app.add_middleware(Guard, admission=PublicAdmission(public))
    errors.install(app)
    app.add_exception_handler(404, answer_astray)
    for room in CUSTOMER:
        app.include_router(room.router)
    page = CustomerPage()
    app.mount("/web", LoadedFiles(page, directory=web_folder()), name="web")

    @app.api_route("/p/{token}", methods=READ)
    async def customer(request: Request, token: str) -> Response:
        return page.answer(request)

    return app


def _serve_pages(app: FastAPI, folder: Path) -> None:
    """The bench's page, the customer's, and what they load."""
    pages = Pages(directory=folder)
    app.mount("/web", pages, name="web")

    @app.api_route("/", methods=READ, include_in_schema=False)
    async def bench(request: Request) -> Response:
        return await pages.get_response("index.html", request.scope)

    @app.api_route("/p/{token}", methods=READ, include_in_schema=False)
    async def customer(request: Request, token: str) -> Response:
        return await pages.get_response("customer.html", request.scope)

    @app.get("/favicon.ico", include_in_schema=False)
    async def icon(request: Request) -> Response:
        return Response(status_code=204)
