"""A characteristic curve as a small SVG for a printed page."""

import numpy as np

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.values import FloatArray

WIDTH, HEIGHT, LEFT, BOTTOM, EDGE = 640, 320, 50, 40, 10


def curve_figure(curve: CharacteristicCurve) -> str:
    """Draw curve, 90 % band and readings.

    Parameters
    ----------
    curve : CharacteristicCurve

    Returns
    -------
    str
        An `svg` element.
    """
    low, high = curve.span
    x = np.linspace(low - 0.1, high + 0.1, 121)
    top = np.ceil(10 * (float(curve.density.max()) + 0.1)) / 10
    mean, error = curve.density_at(x), 1.645 * curve.standard_error_at(x)

    def across(value: FloatArray) -> FloatArray:
        share = (value - x[0]) / (x[-1] - x[0])
        return np.asarray(LEFT + (WIDTH - LEFT - EDGE) * share)

    def down(value: FloatArray) -> FloatArray:
        share = np.clip(value / top, 0, 1)
        return np.asarray(HEIGHT - BOTTOM - (HEIGHT - BOTTOM - EDGE) * share)

    band = _points(
        np.concatenate([across(x), across(x)[::-1]]),
        np.concatenate([down(mean + error), down(mean - error)[::-1]]),
    )
    line = _points(across(x), down(mean))
    dots = "".join(
        f'<circle cx="{a:.1f}" cy="{b:.1f}" r="2.5" fill="#b03020"/>'
        for a, b in zip(across(curve.log_exposure), down(curve.density), strict=True)
    )
    grid = _grid(across, down, x, float(top))
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        'aria-label="print density against log exposure">'
        f'{grid}<polygon points="{band}" fill="#ccd6e0"/>'
        f'<polyline points="{line}" fill="none" stroke="#204060" stroke-width="1.5"/>'
        f"{dots}</svg>"
    )


def _grid(across, down, x: FloatArray, top: float) -> str:  # type: ignore[no-untyped-def]  # two local maps
    parts = []
    for tone in np.arange(0.0, top + 1e-9, 0.2):
        y = float(down(np.array(tone)))
        parts.append(_line(LEFT, y, WIDTH - EDGE, y))
        parts.append(_text(LEFT - 6, y + 4, f"{tone:.1f}", "end"))
    for place in np.arange(np.ceil(x[0] * 2) / 2, x[-1] + 1e-9, 0.5):
        a = float(across(np.array(place)))
        parts.append(_line(a, EDGE, a, HEIGHT - BOTTOM))
        parts.append(_text(a, HEIGHT - BOTTOM + 16, f"{place:.1f}", "middle"))
    parts.append(
        _text(WIDTH / 2, HEIGHT - 6, "log exposure (minus tablet density)", "middle")
    )
    parts.append(_text(LEFT + 6, EDGE + 12, "print density", "start"))
    return "".join(parts)


def _line(a: float, b: float, c: float, d: float) -> str:
    return f'<line x1="{a:.1f}" y1="{b:.1f}" x2="{c:.1f}" y2="{d:.1f}" stroke="#ddd"/>'


def _text(a: float, b: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{a:.1f}" y="{b:.1f}" font-size="11" text-anchor="{anchor}">{text}'
        "</text>"
    )


def _points(across: FloatArray, down: FloatArray) -> str:
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(across, down, strict=True))
