"""Quick to start: heavy libraries come when they are needed; and dsp stays pure, seen at run time."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest
from places import ROOT

HEAVY = ("scipy", "librosa", "soundfile", "pyloudnorm", "soxr", "mutagen", "numba", "ortools")
WORLD = ("socket", "subprocess", "tempfile", "sqlite3", "click", "ruamel", "soundfile", "fastapi", "server")
"""What dsp may not reach for; numpy itself brings os, io, pathlib and time along."""


def loaded(code: str) -> set[str]:
    """Top-level names of the modules that a new interpreter has after some code."""
    names = "sorted({name.split('.')[0] for name in sys.modules})"
    after = f"{code}\nimport json, sys; print(); print(json.dumps({names}))"
    done = subprocess.run(
        [sys.executable, "-c", after], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    )
    return set(json.loads(done.stdout.splitlines()[-1]))


def command(*words: str) -> str:
    return f"from server.cli import main\nmain({list(words)!r}, standalone_mode=False)"


def test_help_needs_no_numpy() -> None:
    assert not loaded(command("--help")) & {"numpy", "ruamel", *HEAVY}


@pytest.mark.parametrize(
    "words",
    [
        ("check", "--help"),
        ("response", "--help"),
        ("facts", "--help"),
        ("render", "--help"),
        ("lugs", "--help"),
        ("check", "demo_audio/baritone.yaml"),
        ("response", "demo_audio/baritone.yaml"),
        ("netlist", "demo_audio/baritone.yaml"),
        ("facts", "demo_audio/twelve.yaml"),
        ("parts",),
        ("schema",),
    ],
    ids=" ".join,
)
def test_what_makes_no_sound_loads_no_sound_library(words: tuple[str, ...]) -> None:
    assert not loaded(command(*words)) & set(HEAVY)


def test_the_check_would_notice() -> None:
    assert "scipy" in loaded("import dsp.filters.design, scipy.signal")


def test_the_solver_of_lug_charts_comes_when_it_is_called() -> None:
    assert not loaded("import dsp.lugs.make, dsp.lugs.solve") & set(HEAVY)


def modules() -> list[str]:
    paths = [path.relative_to(ROOT).with_suffix("") for path in (ROOT / "dsp").rglob("*.py")]
    return sorted(".".join(path.parts).removesuffix(".__init__") for path in paths)


def test_dsp_touches_nothing_of_the_world() -> None:
    """All of dsp imported at once, against numpy and scipy alone, which bring modules of their own."""
    bare = loaded("import numpy, scipy, scipy.signal, scipy.linalg, pyloudnorm, ctypes")
    everything = loaded("\n".join(f"import {name}" for name in modules()))
    assert not (everything - bare) & set(WORLD)
    assert len(modules()) > 50


FILE_CALLS = {
    "open", "read_text", "read_bytes", "write_text", "write_bytes", "mkdir", "unlink", "rename", "touch",
    "rmdir", "tofile", "fromfile", "NamedTemporaryFile", "TemporaryDirectory", "mkdtemp", "rmtree",
}  # fmt: skip
"""Ways to touch a file; called as methods or, of these, `open` plainly."""


def touched(path: Path) -> list[str]:
    """Where a module touches files itself: ``file:line call``."""
    calls = [
        node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)
    ]
    methods = [c for c in calls if isinstance(c.func, ast.Attribute) and c.func.attr in FILE_CALLS]
    plain = [c for c in calls if isinstance(c.func, ast.Name) and c.func.id == "open"]
    return [f"{path}:{call.lineno} {ast.unparse(call.func)}" for call in methods + plain]


FILE_ROOMS = {"files", "database"}
FILE_MODULES = {"files", "folder", "clip_files", "intake", "results", "list", "names"}
"""Rooms and modules of the server that may touch files themselves; everything else asks them."""


def test_only_files_modules_open_files() -> None:
    server = ROOT / "server"
    outside = [
        path
        for path in server.rglob("*.py")
        if path.relative_to(server).parts[0] not in FILE_ROOMS and path.stem not in FILE_MODULES
    ]
    assert len(outside) > 100
    assert not [call for path in outside for call in touched(path)]
    assert touched(server / "files" / "whole.py"), "the walk sees what it should"


def test_importing_a_part_is_light() -> None:
    """The parts and units are plain Python and numpy: nothing else is needed to read a wiring."""
    assert not loaded("import dsp.wiring.reading.wiring, dsp.units, dsp.parts.library.index") & set(HEAVY)
