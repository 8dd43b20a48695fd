"""The parts library as the page offers it beside a part."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from server.wirings.text import written

router = APIRouter(prefix="/api", tags=["library"])


@router.get("/library")
def list_library() -> list[dict[str, Any]]:
    """Generic parts, their values as one would write them in a wiring file."""
    from dsp.parts.library.index import LIBRARY

    return [
        {
            "name": entry.name,
            "kind": entry.kind,
            "about": entry.about,
            "fields": {field: written(value) for field, value in entry.fields.items()},
        }
        for entry in LIBRARY.values()
    ]
