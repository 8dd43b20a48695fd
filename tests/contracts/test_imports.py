"""Fast starts: heavy libraries load when needed. And dsp stays pure at run time."""

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
"""Modules that dsp must not import; numpy itself imports os, io, pathlib and time."""


def loaded(code: str) -> set[str]:
    """Return the top-level modules of a new interpreter after some code."""
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
def test_work_without_sound_loads_no_sound_library(words: tuple[str, ...]) -> None:
    assert not loaded(command(*words)) & set(HEAVY)


def test_the_server_starts_without_libraries_of_sound_and_fits() -> None:
    assert not loaded("import server.app") & set(HEAVY)


def test_the_check_would_notice() -> None:
    assert "scipy" in loaded("import dsp.filters.design, scipy.signal")


def test_the_solver_of_lug_charts_loads_on_its_first_call() -> None:
    assert not loaded("import dsp.lugs.make, dsp.lugs.solve") & set(HEAVY)


def modules() -> list[str]:
    paths = [path.relative_to(ROOT).with_suffix("") for path in (ROOT / "dsp").rglob("*.py")]
    return sorted(".".join(path.parts).removesuffix(".__init__") for path in paths)


def test_dsp_has_no_contact_with_the_system() -> None:
    """Import all of dsp, and compare with numpy and scipy alone, which import modules of their own."""
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
    """Return where a module touches files itself, as ``file:line call``."""
    calls = [
        node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)
    ]
    methods = [c for c in calls if isinstance(c.func, ast.Attribute) and c.func.attr in FILE_CALLS]
    plain = [c for c in calls if isinstance(c.func, ast.Name) and c.func.id == "open"]
    return [f"{path}:{call.lineno} {ast.unparse(call.func)}" for call in methods + plain]


FILE_ROOMS = {"files", "database"}
FILE_MODULES = {"files", "folder", "clip_files", "intake", "results", "list", "names"}
"""Rooms and modules of the server that may touch files; all others use them."""


def test_only_files_modules_open_files() -> None:
    server = ROOT / "server"
    outside = [
        path
        for path in server.rglob("*.py")
        if path.relative_to(server).parts[0] not in FILE_ROOMS and path.stem not in FILE_MODULES
    ]
    assert len(outside) > 100
    assert not [call for path in outside for call in touched(path)]
    assert touched(server / "files" / "whole.py"), "the walk found too little"


def test_importing_a_part_is_light() -> None:
    """Parts and units are plain Python and numpy: reading a wiring needs nothing else."""
    assert not loaded("import dsp.wiring.reading.wiring, dsp.units, dsp.parts.library.index") & set(HEAVY)
