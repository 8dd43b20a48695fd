"""The lines of a table of readings: a head, then rows apart by commas, semicolons or tabs."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from typing import TypeVar

from dsp.errors import InputError, Problem

Row = TypeVar("Row")


def read_rows(
    text: str, where: str, head: Sequence[str], read: Callable[[list[str], str, str], Row | None], value: str
) -> tuple[Row, ...]:
    """Return what the rows of a table hold, those without a value left out.

    Parameters
    ----------
    where : str
        Name of the file.
    head : sequence of str
        Names of the columns.
    read : callable
        Called with the cells of a row, its place in the file and the mark between columns; None for a
        row without a value.
    value : str
        What problems call a value.

    Raises
    ------
    InputError
        With every problem of the table.
    """
    mark, lines = split_lines(text, where, head)
    found: list[Row] = []
    problems: list[Problem] = []
    for at, line in lines:
        try:
            row = read(split_cells(line, mark, at, len(head)), at, mark)
            if row is not None:
                found.append(row)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError.of(problems)
    if not found:
        raise InputError(where, f"no {value} in any row", f"a {value} in one row at least")
    return tuple(found)


def split_lines(text: str, where: str, head: Sequence[str]) -> tuple[str, list[tuple[str, str]]]:
    """Return the mark between columns, and each line below the head.

    ``#`` starts a remark; empty lines are left out.

    Parameters
    ----------
    where : str
        Name of the file.
    head : sequence of str
        Names of the columns.

    Returns
    -------
    str
        A comma, a semicolon or a tab.
    list of (str, str)
        File with line number, and the line.

    Raises
    ------
    InputError
        For an empty file or another head.
    """
    lines = [
        (number, line) for number, line in enumerate(text.lstrip("\ufeff").splitlines(), 1) if line.strip()
    ]
    lines = [(number, line) for number, line in lines if not line.lstrip().startswith("#")]
    if not lines:
        raise InputError(where, "an empty file", f"a table with the head {','.join(head)}")
    mark = next((one for one in (";", "\t") if one in lines[0][1]), ",")
    cells = split_cells(lines[0][1], mark, f"{where}:{lines[0][0]}", len(head))
    if tuple(cell.lower() for cell in cells) != tuple(head):
        raise InputError(f"{where}:{lines[0][0]}", lines[0][1].strip()[:80], f"the head {','.join(head)}")
    return mark, [(f"{where}:{number}", line) for number, line in lines[1:]]


def split_cells(line: str, mark: str, where: str, count: int) -> list[str]:
    """Return the cells of a line.

    Empty ones beyond ``count``, as tables are exported, are left out.

    Raises
    ------
    InputError
        For a line that `csv` cannot read.
    """
    try:
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=mark))]
    except csv.Error as error:
        most = csv.field_size_limit()
        raise InputError(
            where, f"a row that cannot be read: {error}", f"at most {most} characters"
        ) from error
    while len(cells) > count and not cells[-1]:
        cells.pop()
    return cells
