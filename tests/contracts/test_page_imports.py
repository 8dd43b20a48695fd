"""The law of imports of the page: its floors, no circles, one module that talks to the server."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from places import ROOT

JS = ROOT / "web" / "js"

BASE = {"shared", "player"}
BENCH_ROOMS = {"blind", "built", "checking", "measurements", "proposals", "range", "sheets"}
MAY_USE: dict[str, set[str]] = {
    "shared": set(),
    "drawing": set(),
    "player": {"shared"},
    "session": {"shared"},
    "verifying": BASE | {"session"},
    **{room: BASE | {"session", "drawing"} for room in BENCH_ROOMS},
    "checking": BASE | {"session", "drawing", "built"},
    "proposals": BASE | {"session", "drawing", "verifying"},
    "bench": BASE | {"session", "drawing", "verifying"} | BENCH_ROOMS,
    "answers": {"shared"},
    "listings": BASE,
    "commissions": BASE | {"drawing"},
    "customer": BASE | {"answers"},
    "bundle": BASE | {"customer", "answers"},
    "bench.js": BASE | {"session", "bench", "built", "listings", "commissions"},
    "customer.js": BASE | {"customer"},
    "bundle.js": {"bundle", "customer"},
}
"""Rooms that each room and entry of the page may import besides itself."""

IMPORT = re.compile(r"""(?:\bfrom|\bimport|\bURL)\s*\(?\s*["'](\.{1,2}/[^"']+)["']""")
"""Imports of code, imports of types in comments, and the worklet's address."""

OUTSIDE = re.compile(r"""^import\b[^;"']*["'](?!\.{1,2}/)""", re.MULTILINE)
"""Imports of anything but a file of the page."""

NETWORK = re.compile(r"\b(?:fetch\s*\(|XMLHttpRequest\b|new\s+WebSocket\b|EventSource\b|sendBeacon\b)")


def imports_of(path: Path) -> Iterator[Path]:
    text = path.read_text()
    for address in IMPORT.findall(text):
        imported = (path.parent / address).resolve()
        assert imported.is_file(), f"{path.relative_to(JS)} imports {address}: no such file"
        yield imported.relative_to(JS)


def room_of(path: Path) -> str:
    return path.parts[0]


IMPORTS = {path.relative_to(JS): set(imports_of(path)) for path in sorted(JS.rglob("*.js"))}


def breaches(imports: dict[Path, set[Path]]) -> list[str]:
    """Return imports that the floors forbid, as readable lines."""
    return [
        f"{path} imports {one}"
        for path, found in imports.items()
        for one in sorted(found)
        if room_of(one) != room_of(path) and room_of(one) not in MAY_USE[room_of(path)]
    ]


def circles(imports: dict[Path, set[Path]]) -> list[str]:
    """Return circles of files, one line each, without repeats."""
    done: set[Path] = set()
    found: list[str] = []

    def walk(path: Path, way: list[Path]) -> None:
        if path in way:
            found.append(" -> ".join(map(str, [*way[way.index(path) :], path])))
            return
        if path in done:
            return
        for one in sorted(imports.get(path, ())):
            walk(one, [*way, path])
        done.add(path)

    for path in imports:
        walk(path, [])
    return found


def code_imports(path: Path) -> set[Path]:
    """Return imports without those of types, which may be mutual: they do not exist at run time."""
    code = re.sub(r"/\*.*?\*/", "", (JS / path).read_text(), flags=re.DOTALL)
    return {(JS / path).parent.joinpath(name).resolve().relative_to(JS) for name in IMPORT.findall(code)}


def test_every_room_has_its_floor() -> None:
    assert {room_of(path) for path in IMPORTS} == set(MAY_USE)


def test_rooms_import_downwards() -> None:
    assert breaches(IMPORTS) == []


def test_no_circle_of_files() -> None:
    assert circles({path: code_imports(path) for path in IMPORTS}) == []


def test_nothing_from_outside_is_imported() -> None:
    assert not [path for path in IMPORTS if OUTSIDE.search((JS / path).read_text())]
    assert OUTSIDE.search('import { a } from "somewhere";\n')


def test_only_http_talks_to_the_server() -> None:
    talkers = {str(path) for path in IMPORTS if NETWORK.search((JS / path).read_text())}
    assert talkers == {"shared/http.js"}


@pytest.mark.parametrize(
    ("path", "imported"),
    [
        ("shared/dom.js", "bench/page.js"),
        ("session/session.js", "player/clips.js"),
        ("range/page.js", "blind/words.js"),
        ("customer/page.js", "session/session.js"),
        ("listings/new.js", "commissions/api.js"),
    ],
)
def test_a_breach_is_found(path: str, imported: str) -> None:
    assert breaches({Path(path): {Path(imported)}}) == [f"{path} imports {imported}"]


def test_a_circle_is_found() -> None:
    a, b = Path("bench/a.js"), Path("bench/b.js")
    assert circles({a: {b}, b: {a}}) == ["bench/a.js -> bench/b.js -> bench/a.js"]
