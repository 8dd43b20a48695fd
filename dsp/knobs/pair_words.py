"""What a map over two knobs says, in a sentence or two and as a record."""

from __future__ import annotations

from typing import Any

from dsp.knobs.pair import WITHIN_DB, Floats, PairMap, PairRow, find_most_even, find_widest
from dsp.sound.audible import BAND_DB, NOT_HEARD
from dsp.sound.timbre import timbre_distance


def pair_text(pair: PairMap, within_db: float = WITHIN_DB) -> str:
    """Return in words where the second knob is widest and most even.

    Parameters
    ----------
    within_db : float
        Values of the first knob that make the sound softer by more do not count.
    """
    first, second = (name.replace("_", " ") for name in pair.knobs)
    rows = pair.rows_within(within_db)
    if not rows:
        return f"Nothing is heard at any setting of {first} and {second}."
    widest, even = find_widest(rows), find_most_even(rows)
    if widest.travel.heard == NOT_HEARD:
        return f"{_capital(second)} hardly changes the timbre here, wherever {first} stands."
    return f"{_where(first, second, rows[0], widest, even)} {_change(first, second, rows, within_db)}"


def _where(first: str, second: str, top: PairRow, widest: PairRow, even: PairRow) -> str:
    head = f"{_capital(second)} travels widest with {first} at {widest.value:g}"
    width = f"{widest.travel.width_db:.1f} dB"
    if widest.value == even.value:
        return (
            f"{head}, and most evenly too: {width} of timbre from end to end, evenness {_even(widest)} of 1."
        )
    less = "" if even.value == top.value else f"; {_even(top)} at {top.value:g}"
    return (
        f"{head} ({width} of timbre from end to end, evenness {_even(widest)}) and most evenly at"
        f" {even.value:g} (evenness {_even(even)}, {even.travel.width_db:.1f} dB{less})."
    )


def _change(first: str, second: str, rows: tuple[PairRow, ...], within_db: float) -> str:
    most = max(rows, key=lambda row: row.changed_db)
    turned = f"{_capital(first)} turned down by up to {within_db:g} dB"
    if most.changed_db < BAND_DB[0]:
        return f"{turned} leaves what {second} does alone, within {BAND_DB[0]:g} dB."
    return (
        f"{turned} changes what {second} does by {most.changed_db:.1f} dB at most, at {most.value:g}"
        f" ({_level(most.level_db)})."
    )


def _level(level_db: float) -> str:
    return f"{abs(level_db):.1f} dB {'softer' if level_db < 0.0 else 'louder'}"


def _even(row: PairRow) -> str:
    return f"{row.travel.evenness:.2f}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def pair_record(pair: PairMap, within_db: float = WITHIN_DB) -> dict[str, Any]:
    """Return a map as the command prints it, and the page.

    Returns
    -------
    dict
        ``knobs``, ``values``, ``level_db`` and ``distance_db`` (timbre distance from both knobs at
        10) by the first knob, then the second; null where nothing is heard. ``rows``, one for each
        value of the first knob. ``widest`` and ``most_even``, values of the first knob, or null.
        ``text``.
    """
    rows = pair.rows_within(within_db)
    apart = timbre_distance(pair.points, pair.points[-1, -1])
    return {
        "knobs": list(pair.knobs),
        "values": [round(float(value), 3) for value in pair.values],
        "level_db": _grid(pair, pair.level_db),
        "distance_db": _grid(pair, apart) if pair.audible[-1, -1] else None,
        "rows": [_row(row) for row in pair.rows],
        "within_db": within_db,
        "widest": find_widest(rows).value if rows else None,
        "most_even": find_most_even(rows).value if rows else None,
        "text": pair_text(pair, within_db),
    }


def _grid(pair: PairMap, numbers: Floats) -> list[list[float | None]]:
    return [
        [round(float(number), 2) if heard else None for number, heard in zip(*row, strict=True)]
        for row in zip(numbers, pair.audible, strict=True)
    ]


def _row(row: PairRow) -> dict[str, float]:
    return {
        "value": round(row.value, 3),
        "width_db": round(row.travel.width_db, 3),
        "evenness": round(row.travel.evenness, 3),
        "level_db": round(row.level_db, 3),
        "changed_db": round(row.changed_db, 3),
    }
