"""The pages' files: all of them for the bench, those of one page for its customers."""

from __future__ import annotations

import mimetypes
import re
from pathlib import Path
from typing import Any

from fastapi.exceptions import HTTPException
from fastapi.responses import HTMLResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.requests import Request
from starlette.types import Scope

from server.files.packaged import loaded_by, version_of, web_text
from server.web.errors import answer_http

READ = ["GET", "HEAD"]
SERVED = (".html", ".css", ".js", ".svg", ".png", ".ico", ".woff2", ".json", ".webmanifest")
CUSTOMER = "customer.html"
FOR_EVER = "public, max-age=31536000, immutable"
"""A file whose address holds the version of all of them."""
VERSION = re.compile("^[0-9a-f]{16}/")
ASTRAY = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8">'
    '<meta name="viewport" content="width=device-width, initial-scale=1"><title>Nothing here</title></head>'
    "<body><h1>Nothing here</h1><p>Open the whole link, as the workshop sent it.</p></body></html>"
)

mimetypes.add_type("text/javascript", ".js")  # whatever this machine's own table says
mimetypes.add_type("font/woff2", ".woff2")


class Pages(StaticFiles):
    """The page's files, of the kinds a browser needs, with ETags."""

    def lookup_path(self, path: str) -> tuple[str, Any]:
        """The file of a path, if it is one that is served."""
        return super().lookup_path(path) if Path(path).suffix in SERVED else ("", None)


class CustomerPage:
    """The customer's page under addresses that a browser may keep for ever.

    Everything the page loads has the version of all files in its address, so nothing is asked
    for again until one changes; and it is all named in the head, so it comes at once and not
    import by import.
    """

    def __init__(self) -> None:
        self.version = version_of(CUSTOMER)
        self.files = frozenset(loaded_by(CUSTOMER))
        scripts = [name for name in loaded_by(CUSTOMER, apart=False) if name.endswith(".js")]
        links = "".join(f'  <link rel="modulepreload" href="/web/{name}">\n' for name in scripts)
        text = web_text(CUSTOMER).replace("</head>", f"{links}</head>")
        self._text = text.replace('="/web/', f'="/web/{self.version}/')

    def answer(self, request: Request) -> Response:
        """Return the page, or that the browser has it."""
        headers = {"ETag": f'"{self.version}"'}
        if headers["ETag"] in request.headers.get("if-none-match", ""):
            return Response(status_code=304, headers=headers)
        return HTMLResponse(self._text, headers=headers)


class LoadedFiles(StaticFiles):
    """What the customer's page loads, and no other file.

    The address may hold the page's version.
    """

    def __init__(self, page: CustomerPage, *, directory: Path) -> None:
        super().__init__(directory=directory)
        self._page = page

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Return a file; one of this version may be kept for ever.

        A page that was open while the server was renewed still asks by the version before.
        """
        name = Path(path).as_posix()
        plain = VERSION.sub("", name)
        if plain not in self._page.files:
            raise HTTPException(404)
        answer = await super().get_response(plain, scope)
        if name.startswith(self._page.version):
            answer.headers["Cache-Control"] = FOR_EVER
        return answer


async def answer_astray(request: Request, error: Exception) -> Response:
    """Tell a person astray what to open; a program gets JSON."""
    wants_page = request.method in READ and "text/html" in request.headers.get("accept", "")
    if wants_page and not request.url.path.startswith("/api/"):
        return HTMLResponse(ASTRAY, 404)
    return await answer_http(request, error)
