"""The response plot as SVG: level (and phase) per coil over a log frequency axis."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape

import numpy as np

from dsp.circuit.reduction import Complex, Floats
from dsp.circuit.response import Responses
from dsp.wiring.model import Wiring

WIDTH, HEIGHT, PHASE_HEIGHT = 760, 316, 130
LEFT, RIGHT, TOP, BOTTOM = 56, 16, 48, 30
LABELS_HZ = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)
DASHES = ("", "9 4", "2 4", "12 4 2 4", "5 3", "1 3")
"""Colours and dashes: colour is never the only sign of a curve. The first is for all coils together."""
N_COLOURS = 4
SPAN_STEP_DB = 12.0
TOGETHER = "all coils, one string signal in each"
STYLE = """
svg{--sheet:#fbfcfc;--ink:#15242a;--soft:#526870;--line:#c9d4d8;
--k0:#a8481a;--k1:#1f6f8b;--k2:#6a4fa3;--k3:#2c6b4a;
font:12px system-ui,sans-serif;background:var(--sheet)}
@media (prefers-color-scheme:dark){svg{--sheet:#162124;--ink:#e6eef0;--soft:#9db1b8;--line:#2c3b40;
--k0:#f09a6a;--k1:#6cc1dd;--k2:#b9a2ee;--k3:#7fd0a4}}
text{fill:var(--soft)}.t{fill:var(--ink);font-weight:600;font-size:13px}.g{stroke:var(--line);stroke-width:.7}
.c{fill:none;stroke-width:2;stroke-linejoin:round}.sheet{fill:var(--sheet)}
"""


def plot(wiring: Wiring, responses: Responses, *, phase: bool = False) -> str:
    """Draw one panel per setting, one curve per audible coil.

    Parameters
    ----------
    wiring : Wiring
        For names and labels.
    phase : bool
        A second axis under each panel.

    Returns
    -------
    str
        An SVG document; it follows the viewer's light or dark scheme.
    """
    step = HEIGHT + (PHASE_HEIGHT if phase else 0)
    height = step * len(responses.settings)
    drawn = [_curves_of(wiring, responses, i) for i in range(len(responses.settings))]
    span = _span(curve for curves in drawn for curve in curves.values())
    panels = [
        line
        for i, curves in enumerate(drawn)
        for line in _panel(wiring, responses, i, curves, span, top=step * i, phase=phase)
    ]
    title = escape(f"Responses of {wiring.name or wiring.file}")
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img">'
    sheet = f'<rect class="sheet" width="{WIDTH}" height="{height}"/>'
    return "\n".join([head, f"<title>{title}</title>", f"<style>{STYLE}</style>", sheet, *panels, "</svg>\n"])


def _level(curve: Complex) -> Floats:
    """Return the level of a curve, dB, same shape."""
    level: Floats = 20.0 * np.log10(np.maximum(np.abs(curve), 1e-12))
    return level


def _span(curves: Iterable[Complex]) -> tuple[float, float]:
    """Return the lowest and highest level of all axes, dB: panels compare."""
    highest = max((float(_level(curve).max()) for curve in curves), default=0.0)
    ceiling = SPAN_STEP_DB * np.ceil((highest + 2.0) / SPAN_STEP_DB)
    return ceiling - 4 * SPAN_STEP_DB, ceiling


def _panel(
    wiring: Wiring,
    responses: Responses,
    i: int,
    curves: dict[str, Complex],
    span: tuple[float, float],
    *,
    top: int,
    phase: bool,
) -> Iterator[str]:
    setting = responses.settings[i]
    label = wiring.labels.get(setting.position, "")
    knobs = ", ".join(f"{name} {value:g}" for name, value in setting.knobs.items())
    stands = ", ".join(f"{name} {stand}" for name, stand in setting.switches.items())
    heading = f"{setting.position}  {label}".strip()
    yield f'<text class="t" x="{LEFT}" y="{top + 18}">{escape(heading)}</text>'
    about = escape(", ".join(part for part in (knobs, stands) if part))
    yield f'<text x="{WIDTH - RIGHT}" y="{top + 18}" text-anchor="end">{about}</text>'
    x = _x(responses.frequencies_hz)
    box = (top + TOP, top + HEIGHT - BOTTOM)
    yield from _legend(list(curves), top + 36)
    yield from _grid(box, span, SPAN_STEP_DB, "dB re EMF", frequencies=not phase)
    yield from _curves(x, [_level(curve) for curve in curves.values()], box, span)
    if phase:
        below = (top + HEIGHT - BOTTOM + 16, top + HEIGHT + PHASE_HEIGHT - BOTTOM)
        degrees = [np.angle(curve, deg=True) for curve in curves.values()]
        yield from _grid(below, (-180.0, 180.0), 90.0, "degrees", frequencies=True)
        yield from _curves(x, degrees, below, (-180.0, 180.0), wrapped=True)


def heard_together(wiring: Wiring, responses: Responses) -> Complex:
    """Return the response to one string signal in every coil.

    Returns
    -------
    ndarray, shape (n_settings, n_freqs)
        Re the EMF of the most sensitive coil.
    """
    signs = np.array([coil.string_sign * coil.sensitivity for coil in wiring.coils.values()])
    signs /= max(map(abs, signs), default=1.0)
    together: Complex = signs @ responses.coil
    return together


def _curves_of(wiring: Wiring, responses: Responses, i: int) -> dict[str, Complex]:
    """Return the curves by name: all coils together, then each audible coil."""
    found: dict[str, Complex] = {TOGETHER: heard_together(wiring, responses)[i]}
    for k, name in enumerate(responses.coils):
        if np.max(np.abs(responses.coil[i, k]), initial=0.0) > 1e-10:
            found[name] = responses.coil[i, k]
    return found


def _x(frequencies_hz: Floats) -> Floats:
    share = np.log10(frequencies_hz / LABELS_HZ[0]) / np.log10(LABELS_HZ[-1] / LABELS_HZ[0])
    place: Floats = LEFT + share * (WIDTH - LEFT - RIGHT)
    return place


def _y(value: Floats, box: tuple[float, float], span: tuple[float, float]) -> Floats:
    share = (span[1] - np.clip(value, *span)) / (span[1] - span[0])
    place: Floats = box[0] + share * (box[1] - box[0])
    return place


def _grid(
    box: tuple[float, float], span: tuple[float, float], step: float, unit: str, *, frequencies: bool
) -> Iterator[str]:
    for value in np.arange(span[0], span[1] + 0.5, step):
        y = float(_y(np.array(value), box, span))
        yield f'<line class="g" x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
        text = f"{value:+g}".replace("-", "−") if value else "0"
        yield f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{text}</text>'
    for hz in LABELS_HZ:
        x = float(_x(np.array(float(hz))))
        yield f'<line class="g" x1="{x:.1f}" x2="{x:.1f}" y1="{box[0]}" y2="{box[1]}"/>'
        if frequencies:
            text = f"{hz} Hz" if hz < 1000 else f"{hz // 1000} kHz"
            anchor = "end" if hz == LABELS_HZ[-1] else "middle"
            yield f'<text x="{x:.1f}" y="{box[1] + 18}" text-anchor="{anchor}">{text}</text>'
    yield f'<text x="{LEFT + 4}" y="{box[1] - 6}">{unit}</text>'


def _curves(
    x: Floats,
    curves: list[Floats],
    box: tuple[float, float],
    span: tuple[float, float],
    *,
    wrapped: bool = False,
) -> Iterator[str]:
    inside = (x >= LEFT - 0.01) & (x <= WIDTH - RIGHT + 0.01)
    for k, curve in reversed(list(enumerate(curves))):  # the first is drawn last, on top
        y = _y(curve, box, span)
        jump = np.abs(np.diff(curve, prepend=curve[:1])) > 180.0
        points: list[str] = []
        for i in np.flatnonzero(inside & (curve >= span[0])):
            move = "M" if not points or (wrapped and jump[i]) else "L"
            points.append(f"{move}{x[i]:.1f} {y[i]:.1f}")
        if points:
            yield f'<path class="c" {_look(k)} d="{" ".join(points)}"/>'


def _look(k: int) -> str:
    if k == 0:
        return 'style="stroke:var(--k0);stroke-width:3"'
    dash = DASHES[1 + (k - 1) % (len(DASHES) - 1)]
    return f'style="stroke:var(--k{1 + (k - 1) % (N_COLOURS - 1)})" stroke-dasharray="{dash}"'


def _legend(names: list[str], y: int) -> Iterator[str]:
    x = float(LEFT)
    for k, name in enumerate(names):
        yield f'<path class="c" {_look(k)} d="M{x:.0f} {y - 4} h28"/>'
        yield f'<text x="{x + 34:.0f}" y="{y}">{escape(name)}</text>'
        x += 52.0 + 6.6 * len(name)
