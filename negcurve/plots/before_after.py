"""A picture, its print from an uncorrected negative, and its print through a table.

Knows how to set them side by side with the tones they print; every number and pixel
comes from the caller.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from negcurve.errors import InvalidValueError
from negcurve.plots import style
from negcurve.values import FloatArray

Pixels = npt.NDArray[np.uint8]


@dataclass(frozen=True, eq=False, kw_only=True)
class ShownPrint:
    """One print and the tones that it gives.

    Attributes
    ----------
    pixels : array of uint8, shape (rows, columns, 3)
        sRGB.
    lightness : array, shape (n,)
        Printed L* at the tones of the figure.
    rms : float
        Of printed less wanted. [L*]
    """

    pixels: Pixels
    lightness: FloatArray
    rms: float


@style.quiet()
def before_after_figure(
    picture: Pixels,
    *,
    before: ShownPrint,
    after: ShownPrint,
    image_tone: FloatArray,
    aim: FloatArray,
) -> Figure:
    """Draw picture, tones, uncorrected and corrected print in four panels.

    Parameters
    ----------
    picture : array of uint8, shape (rows, columns, 3)
        sRGB.
    before, after : ShownPrint
        From the straight-line negative and through the table.
    image_tone, aim : arrays, shape (n,)
        Tones, and the wanted L* of each.

    Returns
    -------
    Figure

    Raises
    ------
    InvalidValueError
        If the arrays differ in length.
    """
    lengths = {len(image_tone), len(aim), len(before.lightness), len(after.lightness)}
    if len(lengths) != 1:
        raise InvalidValueError("differ in length", where="image_tone and lightness")
    figure = Figure(figsize=(9.0, 7.3), layout="constrained")
    figure.set_facecolor("white")
    places = figure.subplots(2, 2)
    _show(places[0, 0], picture, "The picture")
    _draw_tones(places[0, 1], before, after, image_tone, aim)
    _show(
        places[1, 0],
        before.pixels,
        f"Straight-line negative: {before.rms:.1f} L* rms off",
    )
    _show(
        places[1, 1],
        after.pixels,
        f"Negative through the table: {after.rms:.1f} L* rms off",
    )
    return style.describe(
        figure,
        title="A print before and after correction",
        text=(
            f"The picture, its print from a straight-line negative, {before.rms:.1f} "
            f"L* rms from the aim, and its print through the table, {after.rms:.1f} L* "
            "rms from the aim, with the printed L* of each image tone."
        ),
    )


def _show(axes: Axes, pixels: Pixels, title: str) -> None:
    axes.imshow(pixels, interpolation="antialiased")
    axes.set_title(title)
    axes.set_axis_off()


def _draw_tones(
    axes: Axes,
    before: ShownPrint,
    after: ShownPrint,
    image_tone: FloatArray,
    aim: FloatArray,
) -> None:
    axes.plot(image_tone, aim, color=style.QUIET, lw=5, alpha=0.35)
    axes.plot(image_tone, before.lightness, "--", color=style.ORANGE)
    axes.plot(image_tone, after.lightness, color=style.BLUE)
    # Both lines rise from the lower left, so the upper left is free for their names.
    for row, (text, color) in enumerate(
        (
            ("through the table, on its aim in grey", style.BLUE),
            ("straight line, dashed", style.ORANGE),
        )
    ):
        axes.text(
            0.03,
            0.94 - 0.08 * row,
            text,
            color=color,
            transform=axes.transAxes,
            va="top",
        )
    style.unit_scale(axes, low="black", high="white")
    style.name_axes(axes, x="image tone", y="printed L*", title="What each tone prints")
