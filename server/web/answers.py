"""The header by which a browser saves an answer as a file."""

from __future__ import annotations

import re
from urllib.parse import quote


def attached(name: str) -> str:
    """Return the Content-Disposition of a file of any name (RFC 6266)."""
    plain = re.sub(r"[^A-Za-z0-9.+,()_ -]", "_", name)
    return f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='', errors='replace')}"
