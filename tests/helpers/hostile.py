"""Texts that do harm where a program treats them as more than text."""

from __future__ import annotations

KEPT = {
    "script": "<script>alert(1)</script>",
    "attribute": '"><img src=x onerror=alert(1)>',
    "sql": "'); DROP TABLE commissions; --",
    "template": "{{7*7}} ${7*7} %s %n {0}",
    "path": "../../../etc/passwd",
    "windows path": "..\\..\\C:\\nul",
    "yaml": "a: [1, {b: !!python/object/apply:os.system [id]}] # & *x",
    "right to left": "\u202eevitanretla\u202c \u0645\u0631\u062d\u0628\u0627",
    "emoji": "\U0001f3b8\U0001f468\u200d\U0001f527 \u00e9 e\u0301",
    "wide": "\uff1cscript\uff1e",
    "no width": "a\u200bb\ufeffc",
    "percent": "%00%2e%2e%2f&name=x#y?z",
    "long": "\u00e4" * 200,
}
"""Texts that a one-line field stores and returns unchanged."""

REFUSED = {
    "nul": "a\x00b",
    "newline": "a\nb",
    "carriage return": "a\rContent-Length: 0",
    "escape": "\x1b[2J",
    "next line": "a\x85b",
    "line separator": "a\u2028b",
    "too long": "a" * 201,
    "blank": "   ",
    "empty": "",
}
"""Texts that a required one-line field refuses."""

HALF = "\ud83d"
"""Half of a surrogate pair: JSON can write it, UTF-8 cannot."""
