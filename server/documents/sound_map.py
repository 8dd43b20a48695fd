"""The map of all sounds a set of coils can make, the chosen ones marked, as SVG."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from xml.sax.saxutils import escape

import numpy as np

from dsp.sounds.alternatives import map_on_plane
from dsp.sounds.candidates import Candidates

WIDTH, HEIGHT, MARGIN = 820, 560, 46
STYLE = """
svg { color-scheme: light dark; font: 13px system-ui, sans-serif; }
text { fill: light-dark(#15242a, #e6eef0); paint-order: stroke; stroke-width: 3px;
  stroke: light-dark(#fbfcfc, #162124); } .soft { fill: light-dark(#526870, #9db1b8); }
.paper { fill: light-dark(#fbfcfc, #162124); } .frame { fill: none; stroke: light-dark(#c9d4d8, #2c3b40); }
.quiet { fill: light-dark(#1f6f8b, #6cc1dd); } .hums { fill: light-dark(#b9c4c8, #3f5157); }
.chosen { fill: light-dark(#a8481a, #f09a6a); } .ring { fill: none; stroke: light-dark(#a8481a, #f09a6a); }
"""
MOST_POINTS = 4000
"""Most dots: more hide one another. Those nearest the chosen ones stay, and a share of the rest."""


def range_map(found: Candidates, chosen: Sequence[int], title: str, *, quiet_db: float) -> str:
    """Draw a dot for every sound: near dots sound alike.

    Parameters
    ----------
    chosen : sequence of int
        In the selector's order; each gets its number.
    quiet_db : float
        Residual below which a sound counts as hum-cancelling.
    """
    plane = map_on_plane(found)
    low, high = plane.min(axis=0), plane.max(axis=0)
    scale = min(
        (WIDTH - 2 * MARGIN) / max(high[0] - low[0], 1e-9), (HEIGHT - 130) / max(high[1] - low[1], 1e-9)
    )
    x = MARGIN + (plane[:, 0] - low[0]) * scale
    y = HEIGHT - MARGIN - (plane[:, 1] - low[1]) * scale
    shown = range(len(found))
    if len(found) > MOST_POINTS:
        shown = np.random.default_rng(1).choice(len(found), MOST_POINTS, replace=False)  # type: ignore[assignment]
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img">',
        f"<title>{escape(title)}</title><style>{STYLE}</style>",
        f'<rect class="paper" width="{WIDTH}" height="{HEIGHT}"/>',
        f'<text x="{MARGIN}" y="28">{escape(title)}</text>',
        f'<text class="soft" x="{MARGIN}" y="48">{len(found)} sounds; near ones sound alike, brighter to the '
        f"right; blue: hum cancels ({quiet_db:g} dB or less left); numbered: chosen, dark to bright</text>",
        *_dots(found, x, y, shown, quiet_db),
        *_numbers(found, x, y, chosen),
        *_scale(scale),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _dots(
    found: Candidates, x: np.ndarray, y: np.ndarray, shown: Sequence[int], quiet_db: float
) -> Iterator[str]:
    for i in shown:
        kind = "quiet" if found.hum_db[i] <= quiet_db else "hums"
        name = escape(found.expression_text(int(i)))
        yield f'<circle class="{kind}" cx="{x[i]:.1f}" cy="{y[i]:.1f}" r="2.5"><title>{name}</title></circle>'


def _numbers(found: Candidates, x: np.ndarray, y: np.ndarray, chosen: Sequence[int]) -> Iterator[str]:
    for number, i in enumerate(chosen, 1):
        side, anchor = (12, "start") if x[i] < 0.6 * WIDTH else (-12, "end")
        yield f'<circle class="chosen" cx="{x[i]:.1f}" cy="{y[i]:.1f}" r="5"/>'
        yield f'<circle class="ring" cx="{x[i]:.1f}" cy="{y[i]:.1f}" r="9" stroke-width="1.5"/>'
        name = escape(found.expression_text(i))
        yield (
            f'<text x="{x[i] + side:.1f}" y="{y[i] + 4:.1f}" text-anchor="{anchor}">{number}  {name}</text>'
        )


def _scale(scale: float) -> Iterator[str]:
    """Draw a bar as long as 5 dB of timbre distance."""
    y, length = HEIGHT - 16, 5.0 * scale
    yield f'<path class="frame" d="M{MARGIN} {y - 4}v8m0 -4h{length:.1f}m0 -4v8"/>'
    yield f'<text class="soft" x="{MARGIN + length + 8:.1f}" y="{y + 4}">5 dB apart</text>'
