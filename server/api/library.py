"""The parts library as the page offers it beside a part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import APIRouter

router = APIRouter(prefix="/api", tags=["library"])


@router.get("/library")
def list_library() -> list[dict[str, Any]]:
    """Generic parts, their values as one would write them in a wiring file."""
    from dsp.parts.library import LIBRARY

    return [
        {
            "name": entry.name,
            "kind": entry.kind,
            "about": entry.about,
            "fields": {field: written(value) for field, value in entry.fields.items()},
        }
        for entry in LIBRARY.values()
    ]


def written(value: object) -> str:
    """A field's value in one line, as a wiring file writes it."""
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{key}: {written(one)}' for key, one in value.items())}}}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(map(written, value))}]"
    return str(value)
