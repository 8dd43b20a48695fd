"""Shared by the tests of `presolder render`: the demo, its coils, the list of clips."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from click.testing import Result

COILS = ["neck_a", "neck_b", "bridge_a", "bridge_b"]
Render = Callable[..., Result]


def listed(tmp_path: Path) -> list[dict[str, Any]]:
    """Return the entries of the list of clips in a test's folder ``out``."""
    clips: list[dict[str, Any]] = json.loads((tmp_path / "out" / "clips.json").read_text(encoding="utf-8"))[
        "clips"
    ]
    return clips
