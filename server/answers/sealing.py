"""The sealed text of an answer: read with limits, checked, never trusted.

``presolder1.`` base64url(raw deflate of canonical JSON) ``.`` base64url(first 16 bytes of the
HMAC-SHA256 of all before that point). White space does not matter. The seal covers the text
itself, not its meaning, so no other text of the same meaning passes.
"""

from __future__ import annotations

import base64
import binascii
import hmac
import json
import re
import zlib
from typing import Any

from dsp.errors import InputError
from server.proposals.signoffs import canonical
from server.refusals import TooLarge

HEAD = "presolder1"
MOST_BYTES = 64 * 1024
"""Of an answer, unpacked."""
MOST_CHARACTERS = 2 * MOST_BYTES
"""Of a sealed text without white space."""
SEAL_BYTES = 16
WHOLE = "the whole text as the customer's page gave it"
AGAIN = "ask the customer to send it once more, as a file if need be"
_SHAPE = re.compile(rf"({HEAD}\.[A-Za-z0-9_-]+)\.([A-Za-z0-9_-]{{22}})")
_DIGITS = re.compile(rf"{HEAD.upper()}\.([0-9]+)")
_WIDTHS = (0, 3, 5, 8, 10, 13, 15, 17)
"""Digits that hold so many bytes."""
_WHITE = re.compile(r"\s+")


def squeeze(text: str) -> str:
    """Return a sealed text without white space, or from the digits of a code.

    Raises
    ------
    TooLarge
        If more is left than any answer needs.
    InputError
        If digits were changed so that they are no bytes.
    """
    found = _WHITE.sub("", text)
    if len(found) > MOST_CHARACTERS:
        raise TooLarge("answer", f"{len(found)} characters", f"up to {MOST_CHARACTERS}")
    match = _DIGITS.fullmatch(found)
    return found if match is None else _from_digits(match[1])


def _from_digits(digits: str) -> str:
    content, most = bytearray(), len(_WIDTHS) - 1
    for at in range(0, len(digits), _WIDTHS[most]):
        part = digits[at : at + _WIDTHS[most]]
        if len(part) not in _WIDTHS or int(part) >= 256 ** (count := _WIDTHS.index(len(part))):
            raise damaged()
        content += int(part).to_bytes(count, "big")
    body, seal = bytes(content[:-SEAL_BYTES]), bytes(content[-SEAL_BYTES:])
    return f"{HEAD}.{_to_base64(body)}.{_to_base64(seal)}"


def open_text(sealed: str) -> tuple[str, dict[str, Any]]:
    """Return an answer's canonical JSON and content, its seal unchecked.

    Raises
    ------
    InputError
        If the text is no answer, or was damaged.
    TooLarge
        If it unpacks to more than any answer holds.
    """
    match = _SHAPE.fullmatch(sealed)
    if match is None:
        got = "a text that was cut or changed" if sealed.startswith(HEAD) else "another text"
        raise InputError("answer", got, f"{WHOLE}; it begins with {HEAD}.", AGAIN)
    try:
        text = _inflate(_from_base64(match[1].partition(".")[2])).decode()
        content = json.loads(text)
        is_canonical = isinstance(content, dict) and canonical(content) == text
    except TooLarge:
        raise
    except (ValueError, zlib.error, RecursionError) as error:
        raise damaged() from error
    if not is_canonical:
        raise damaged()
    return text, content


def damaged() -> InputError:
    """Return the refusal of an answer that was changed on its way."""
    return InputError("answer", "a text that was changed on its way", WHOLE, AGAIN)


def _inflate(packed: bytes) -> bytes:
    unpacking = zlib.decompressobj(-zlib.MAX_WBITS)
    found = unpacking.decompress(packed, MOST_BYTES + 1)
    if len(found) > MOST_BYTES:
        raise TooLarge("answer", "a text that unpacks to more", f"up to {MOST_BYTES // 1024} kB")
    if not unpacking.eof or unpacking.unused_data:
        raise ValueError("cut short, or with something behind it")
    return found


def _from_base64(text: str) -> bytes:
    try:
        return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except binascii.Error as error:
        raise ValueError(str(error)) from error


def _to_base64(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode().rstrip("=")


def is_sealed(sealed: str, secret: bytes) -> bool:
    """Whether a text has the seal of a secret."""
    body, _, seal = sealed.rpartition(".")
    return hmac.compare_digest(_seal(body, secret), seal)


def seal_text(head: str, text: str, secret: bytes) -> str:
    """Return a text packed and sealed, as `open_text` and `is_sealed` read it."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    body = f"{head}.{_to_base64(packer.compress(text.encode()) + packer.flush())}"
    return f"{body}.{_seal(body, secret)}"


def _seal(body: str, secret: bytes) -> str:
    return _to_base64(hmac.digest(secret, body.encode(), "sha256")[:SEAL_BYTES])
