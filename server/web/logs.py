"""Keep out of every log the tokens of links, and requests that the server's own end cut off."""

from __future__ import annotations

import logging
import re
from asyncio import CancelledError

TOKEN = re.compile(r"(/p/|/listings/pages/[^/?#\s\"']+/)[^/?#\s\"']+")
NAMES = ("uvicorn", "uvicorn.access", "uvicorn.error", "uvicorn.asgi", "presolder")


class WithoutTokens(logging.Filter):
    """A log filter that removes the tokens of links."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Change a record and let it through."""
        record.msg = redact(str(record.msg))
        if isinstance(record.args, tuple):
            record.args = tuple(redact(one) if isinstance(one, str) else one for one in record.args)
        return True


class WithoutCancelled(logging.Filter):
    """A log filter that drops what the end of the server cut off."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let a record through unless it tells of a cancelled task."""
        return not (record.exc_info and isinstance(record.exc_info[1], CancelledError))


def redact(text: str) -> str:
    """Return a text without the tokens of its links."""
    return TOKEN.sub(r"\1…", text)


def guard_logs() -> None:
    """Put the filters on every log of the server and on its handlers."""
    for name in NAMES:
        log = logging.getLogger(name)
        for target in (log, *log.handlers):
            target.addFilter(WithoutTokens())
            target.addFilter(WithoutCancelled())
