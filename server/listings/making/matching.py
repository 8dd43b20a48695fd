"""Patterns by which parts of a listing choose wirings."""

from __future__ import annotations

import fnmatch
from collections.abc import Iterator, Sequence
from pathlib import Path

from dsp.errors import Problem, nearest

MOST_NAMES = 12
"""Names of files that an error lists."""


def is_for(patterns: Sequence[str], file: str | Path) -> bool:
    """Whether the wiring of a file is chosen; no pattern chooses all."""
    return not patterns or any(_matches(pattern, file) for pattern in patterns)


def _matches(pattern: str, file: str | Path) -> bool:
    path = Path(file)
    return fnmatch.fnmatch(path.name, pattern) or path.stem == pattern


def unmatched(patterns: Sequence[str], files: Sequence[Path], where: str) -> Iterator[Problem]:
    """Yield a problem for each pattern that is the name of no wiring."""
    names = [path.name for path in files]
    listed = ", ".join(names[:MOST_NAMES]) + (" …" if len(names) > MOST_NAMES else "")
    for pattern in patterns:
        if not any(_matches(pattern, name) for name in names):
            hint = nearest(pattern, [*names, *(path.stem for path in files)])
            yield Problem(where, f"'{pattern}': no wiring of this listing", listed, hint)
