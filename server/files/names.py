"""Names of files that every system accepts, and no two alike."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterable, Sequence

from dsp.errors import InputError

LONGEST_NAME = 120
RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}
"""Names of devices. One system accepts them for no file, whatever the ending (common practice)."""


def file_stem(words: Sequence[str]) -> str:
    """Join words to a file name, without ending, for every system.

    A long name is cut and ends in a digest of the whole, so that two long names stay different.
    """
    plain = unicodedata.normalize("NFC", "-".join(words))
    safe = re.sub(r"[^\w.+,()-]+", "_", plain.replace(":", "to").replace("@", "at").replace("=", ""))
    safe = safe.strip("._-") or "clip"
    if safe.partition(".")[0].casefold() in RESERVED:
        safe = f"{safe}_"
    if len(safe.encode()) <= LONGEST_NAME:
        return safe
    digest = hashlib.sha256(plain.encode(errors="surrogatepass")).hexdigest()[:8]
    short = safe.encode()[: LONGEST_NAME - 9].decode(errors="ignore")
    return f"{short}-{digest}"


def require_unique_names(what: str, names: Iterable[tuple[str, str]]) -> None:
    """Refuse two files with one name; some disks ignore the case of letters.

    Parameters
    ----------
    what : str
        What is named, for the error.
    names : iterable of tuple
        Each name, and the source of what it names.

    Raises
    ------
    InputError
    """
    sources: dict[str, str] = {}
    for name, source in names:
        key = name.casefold()
        if key in sources:
            raise InputError(what, f"{source}: '{name}' again", f"another file name than for {sources[key]}")
        sources[key] = source


def has_duplicate(name: str, names: Sequence[str]) -> bool:
    """Whether a name occurs more than once; case does not count."""
    return sum(one.casefold() == name.casefold() for one in names) > 1


def make_unique(names: Iterable[str]) -> list[str]:
    """Add a number to each name that equals an earlier one, case aside."""
    taken: set[str] = set()
    unique = []
    for name in names:
        own, number = name, 1
        while own.casefold() in taken:
            number += 1
            own = f"{name}-{number}"
        taken.add(own.casefold())
        unique.append(own)
    return unique
