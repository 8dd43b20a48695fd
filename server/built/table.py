"""The workshop's record as a table for a spreadsheet, one line a reading."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from server.built.excited import is_excited

HEAD = (
    "serial number", "date", "commission", "client", "wiring", "version", "signed", "verdict",
    "readings outside", "setting", "what", "ohm, decimal {}", "expected", "band", "judged", "as typed",
    "recording", "notes", "archived",
)  # fmt: skip
"""The decimal separator is said, since it is chosen."""
RISKY = re.compile(r'(^|[,;\t\r\n])(?=[\s"]*[=+\-@])|^(?=[\t\r\n])')
"""Before the first signs by which spreadsheets know formulas (common practice against formulas in CSV).

Within a cell too: a spreadsheet of another language parts it there, whatever stands between quotes.
"""
QUOTE = "'"
"""Before such a sign: a spreadsheet shows the cell as it is."""


def record_csv(instruments: Iterable[Mapping[str, Any]], *, decimal_comma: bool) -> str:
    """Return instruments as CSV with a byte order mark, no cell a formula.

    Parameters
    ----------
    instruments : iterable of mapping
        As `list_instruments` returns them.
    decimal_comma : bool
        Whether commas stand for decimal points, and semicolons part the columns, as spreadsheets of
        many languages read it.
    """
    held = io.StringIO()
    writer = csv.writer(held, delimiter=";" if decimal_comma else ",", lineterminator="\r\n")
    decimal = "comma" if decimal_comma else "point"
    writer.writerow([one.format(decimal) for one in HEAD])
    for one in instruments:
        for row in _rows(one, "," if decimal_comma else "."):
            writer.writerow([_plain(value) for value in row])
    return "\ufeff" + held.getvalue()


def _rows(one: Mapping[str, Any], mark: str) -> Iterator[tuple[object, ...]]:
    """Yield a row for each reading; ``mark`` stands for the decimal point."""
    of = (
        one["serial"], one["day"], one["title"], one["client"], one["wiring"], one["version_number"],
        one["signed"], one["verdict"]["text"], one["verdict"]["outside"],
    )  # fmt: skip
    for each in one["readings"]:
        word = "" if is_excited(each["what"]) else each["read"]  # a ratio is not ohms
        ohm = word if each["ohm"] is None else f"{each['ohm']:.10g}"
        numbers = (text.replace(".", mark) for text in (ohm, each["expected"], each["band"]))
        said = (each["setting"], each["what"], *numbers, each["side"], each["value"], each["source"])
        yield *of, *said, one["notes"], one["archived"] or ""


def _plain(value: object) -> str:
    """Return a cell that no spreadsheet takes for a formula."""
    return RISKY.sub(rf"\1{QUOTE}", str(value))
