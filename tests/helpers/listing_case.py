"""A small catalogue in a folder: wirings, short takes, a listing file; its runs and their files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from server.listings.making.engines import Engine, InProcess
from server.listings.making.folder import OWN
from server.listings.making.plan import plan_listing
from server.listings.making.report import Report
from server.listings.making.run import run_listing
from server.paths import demo_folder
from server.takes.load import load_take

PLUCK = """format: 1
name: Pluck {number}
kind: score
tempo: 120
tail: {tail} s
events:
  - {{beat: 0, frets: [0, 2, 2, x, x, x], force: 0.6}}
  - {{beat: 0.5, string: {string}, fret: 3}}
"""
LISTING = """format: 1
name: Test listing
wirings: ["wirings/*.yaml"]
takes: [{takes}]
{more}
out: out
"""
MORE = "formats: [flac, mp3]\nloudness: -26 LUFS\npositions: [1, 5]"


def catalogue(
    folder: Path, *, instruments: int = 2, takes: int = 1, more: str = MORE, tail_s: float = 0.3
) -> Path:
    """Write a catalogue of the demo's baritone with different coils; return its listing file."""
    (folder / "wirings").mkdir(parents=True, exist_ok=True)
    text = (demo_folder() / "baritone.yaml").read_text(encoding="utf-8")
    for i in range(instruments):
        own = text.replace("resistance: 4.1 kΩ", f"resistance: {4.1 + i / 100:.2f} kΩ")
        own = own.replace("at: 176 mm", f"at: {176 - i / 10:.1f} mm")
        assert i == 0 or own != text
        (folder / "wirings" / f"baritone_{i:03d}.yaml").write_text(own, encoding="utf-8")
    names = [f"pluck_{i}.yaml" for i in range(takes)]
    for i, name in enumerate(names):
        (folder / name).write_text(PLUCK.format(number=i, tail=tail_s, string=i % 6 + 1), encoding="utf-8")
    return listing(folder, more, names)


def listing(folder: Path, more: str = MORE, takes: Sequence[str] = ("pluck_0.yaml",)) -> Path:
    """Write the listing file of a catalogue again."""
    path = folder / "listing.yaml"
    path.write_text(LISTING.format(takes=", ".join(takes), more=more), encoding="utf-8")
    return path


def run(path: Path, engine: Engine | None = None, **how: Any) -> Report:
    """Run a listing in this process, or on an engine."""
    return run_listing(plan_listing(path, load_take), engine or InProcess(), **how)


def run_noting(path: Path, **how: Any) -> tuple[Report, list[dict[str, Any]]]:
    """Run a listing; return its report and every event."""
    events: list[dict[str, Any]] = []
    return run(path, on_event=events.append, **how), events


def content(out: Path, *, own: bool = True) -> dict[str, str]:
    """Return the digest of every file in a listing's folder by path, except for the empty lock."""
    files = [path for path in sorted(out.rglob("*")) if path.is_file() and path.name != "lock"]
    return {
        str(path.relative_to(out)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in files
        if own or OWN not in path.parts
    }


def times(out: Path, pattern: str) -> dict[str, int]:
    """Return when each file was written: an untouched file keeps its time."""
    return {str(path.relative_to(out)): path.stat().st_mtime_ns for path in sorted(out.rglob(pattern))}


def clips(out: Path, folder: str = "baritone_000") -> list[dict[str, Any]]:
    """Return the entries of an instrument's list of clips."""
    text = (out / folder / "clips.json").read_text(encoding="utf-8")
    found: list[dict[str, Any]] = json.loads(text)["clips"]
    return found


def stop_after(events: int) -> tuple[Callable[[dict[str, Any]], None], Callable[[], bool]]:
    """Return a listener, and a cancel flag that it sets after so many events."""
    seen: list[dict[str, Any]] = []
    return seen.append, lambda: len(seen) >= events
