"""Takes: the list, and bringing a recording."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from fastapi import APIRouter, Depends, Request

from server.api.access import require_bench

router = APIRouter(prefix="/api", tags=["takes"], dependencies=[Depends(require_bench)])


@router.get("/takes")
def list_takes(request: Request) -> list[dict[str, Any]]:
    """Takes to listen to: the demo's, those of served folders, those brought in."""
    return [asdict(one) for one in request.app.state.library.listed()]
