"""What a log may hold: no token of a customer's link or of an opened listing, whoever writes the line."""

from __future__ import annotations

import logging
import re

TOKEN = re.compile(r"(/p/|/listings/pages/[^/?#\s\"']+/)[^/?#\s\"']+")
NAMES = ("uvicorn", "uvicorn.access", "uvicorn.error", "uvicorn.asgi", "presolder")


class WithoutTokens(logging.Filter):
    """A log filter that takes tokens of links out."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every record through, changed."""
        record.msg = redacted(str(record.msg))
        if isinstance(record.args, tuple):
            record.args = tuple(redacted(one) if isinstance(one, str) else one for one in record.args)
        return True


def redacted(text: str) -> str:
    """A text with the tokens of its links left out."""
    return TOKEN.sub(r"\1…", text)


def guard_logs() -> None:
    """Put the filter on every log of the server and all that it goes to."""
    for name in NAMES:
        log = logging.getLogger(name)
        for target in (log, *log.handlers):
            target.addFilter(WithoutTokens())
