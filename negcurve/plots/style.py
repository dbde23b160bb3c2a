"""The one quiet style of every figure, and how a figure becomes a file.

Knows colours, sizes, labels, PNG and SVG; what to draw is left to the other modules.
Figures are made with matplotlib's Figure API: no global state, no window.
"""

import io
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
import numpy.typing as npt
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MultipleLocator

from negcurve.density import lightness_from_density
from negcurve.errors import InvalidValueError
from negcurve.files.safe import new_file
from negcurve.values import FloatArray

Drawing = Figure
"""What every function of this room returns, for rooms that load no matplotlib."""

INK = "#222222"
QUIET = "#6b6b6b"
GRID = "#dcdcdc"
BLUE = "#0072b2"
ORANGE = "#d55e00"
GREEN = "#007a5a"
"""Blue and vermilion of Okabe and Ito, Color Universal Design (2008), which keep apart
under every common colour blindness; the green is theirs, darkened so that text in it
has a contrast above 4.5 : 1 on white. Figures never tell things apart by colour alone.
"""

WIDTH_IN = 5.6
"""At 360 pixels, a phone's width, text of 11 points comes out 10 pixels high. [in]"""

_FONTS = "'DejaVu Sans', Verdana, sans-serif"
"""Named in an SVG: the face that the layout was made for, one as wide, and any."""

_RC: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 11,
    "axes.facecolor": "none",
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.titlelocation": "left",
    "axes.titlesize": 11.5,
    "axes.titleweight": "bold",
    "axes.titlecolor": INK,
    "axes.titlepad": 8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": GRID,
    "grid.linewidth": 0.7,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": 10,
    "ytick.labelsize": 10,
    "xtick.major.size": 3,
    "ytick.major.size": 3,
    "text.color": INK,
    "lines.linewidth": 1.8,
    "lines.solid_capstyle": "round",
    "figure.facecolor": "white",
    "figure.dpi": 100,
    "savefig.dpi": 160,
    "svg.fonttype": "none",
    "svg.hashsalt": "negcurve",
}


@contextmanager
def quiet() -> Iterator[None]:
    """Draw in the project's style; use as `with quiet():` or `@quiet()`.

    Nothing outside is changed: matplotlib's settings come back on leaving.
    """
    with rc_context(_RC):
        yield


def new_figure(*, height_in: float) -> Figure:
    """Start an empty figure of the standard width."""
    return Figure(figsize=(WIDTH_IN, height_in), layout="constrained")


def describe(figure: Figure, *, title: str, text: str) -> Figure:
    """Give a figure the title and the description that its file carries.

    Both go into the SVG for screen readers, the title into the PNG as well.
    """
    figure.set_label(f"{title}\n{text}")
    return figure


def title_of(figure: Figure) -> str:
    """Return the title given by `describe`."""
    return str(figure.get_label()).partition("\n")[0]


def name_axes(
    axes: Axes, *, x: str, y: str, title: str = "", minor: bool = False
) -> None:
    """Write quantity and unit on both axes and, left above, what the panel shows.

    A minor panel has its title small and light.
    """
    axes.set_xlabel(x)
    axes.set_ylabel(y)
    if minor:
        axes.set_title(title, fontsize=10, fontweight="normal", pad=4)
    elif title:
        axes.set_title(title)


def signed(value: float, digits: int = 1) -> str:
    """Return a number with its sign, the minus as wide as the plus."""
    return f"{value:+z.{digits}f}".replace("-", "\N{MINUS SIGN}")


def unit_scale(axes: Axes, *, low: str, high: str) -> None:
    """Scale x from 0 to 1 and say beside the ends what they mean."""
    axes.set_xlim(-0.02, 1.02)
    axes.xaxis.set_major_locator(MultipleLocator(0.2))
    words = {0.0: f"0\n{low}", 1.0: f"1\n{high}"}
    axes.xaxis.set_major_formatter(
        FuncFormatter(lambda value, _: words.get(round(value, 6), f"{value:.1f}"))
    )


def lightness_scale(axes: Axes) -> None:
    """Add L* at the right of a density axis, at even steps of L*."""
    other = axes.secondary_yaxis(
        "right", functions=(lightness_from_density, _density_of_lightness)
    )
    other.set_yticks([10, 20, 30, 40, 50, 60, 70, 80, 90])
    other.set_ylabel("print L*")


_DENSITY = np.linspace(5.0, -1.0, 3001)
_LIGHTNESS = lightness_from_density(_DENSITY)


def _density_of_lightness(lightness: npt.ArrayLike) -> FloatArray:
    """Return the density of an L*, also where an axis asks beyond 0..100."""
    value = np.asarray(lightness, dtype=np.float64)
    return np.asarray(np.interp(value, _LIGHTNESS, _DENSITY))


def label(
    axes: Axes,
    place: tuple[float, float],
    text: str,
    *,
    color: str = INK,
    shift: tuple[float, float] = (0, 0),
    align: str = "left",
) -> None:
    """Write a label beside the thing it names, in its colour.

    Parameters
    ----------
    axes : Axes
        Where.
    place : pair of float
        Point of the data that is meant.
    text : str
        Plain English.
    color : str
        As the thing that is named.
    shift : pair of float
        From the point. [pt]
    align : {"left", "center", "right"}
        Which side of the text stands at the point.
    """
    axes.annotate(
        text,
        place,
        xytext=shift,
        textcoords="offset points",
        color=color,
        ha=align,
        va="center",
        fontsize=10,
        annotation_clip=False,
    )


def save_figure(figure: Figure, path: Path | str, *, overwrite: bool = False) -> None:
    """Write a figure as PNG or SVG, by the ending of the name.

    Parameters
    ----------
    figure : Figure
        From one of this room's functions.
    path : path
        Ends in .png or .svg.
    overwrite : bool
        Replace a file that exists.

    Raises
    ------
    InvalidValueError
        If the ending is neither.
    FileError
        If the file exists or cannot be written.
    """
    target = Path(path)
    kind = target.suffix.lower()
    if kind not in (".png", ".svg"):
        raise InvalidValueError(
            f"a plot is written as .png or .svg, not {kind or 'without an ending'}",
            where=str(target),
            fix="Give the plot a name that ends in .png or .svg.",
        )
    content = svg_text(figure).encode() if kind == ".svg" else png_bytes(figure)
    with new_file(target, overwrite=overwrite) as part:
        Path(part).write_bytes(content)


def png_bytes(figure: Figure) -> bytes:
    """Return the figure as a PNG file, the same bytes for the same figure."""
    held = io.BytesIO()
    with quiet():
        figure.savefig(
            held, format="png", metadata={"Title": title_of(figure), "Software": None}
        )
    return held.getvalue()


def svg_text(figure: Figure, *, prefix: str = "", inline: bool = False) -> str:
    """Return the figure as SVG with title and description.

    Parameters
    ----------
    figure : Figure
        From one of this room's functions.
    prefix : str
        Put before every id, so that several pictures can stand in one page.
    inline : bool
        For use inside a page: no XML head, no size in points, no background, and
        colours as CSS variables with the printed colour as fallback.

    Returns
    -------
    str
        The same text for the same figure: no date, no random ids.
    """
    held = io.StringIO()
    with quiet():
        figure.savefig(
            held,
            format="svg",
            metadata={"Date": None, "Creator": None, "Format": None, "Type": None},
            facecolor="none" if inline else "white",
        )
    text = _lean(_rootless_style(held.getvalue()))
    text = _renamed(_described(text, figure, prefix), prefix)
    return _for_page(text) if inline else text


def _rootless_style(text: str) -> str:
    """Move the joins from a style sheet, which would reach a whole page, to the root.

    Both properties are inherited, so the root is enough.
    """
    text = re.sub(
        r"\s*<defs>\s*<style[^>]*>.*?</style>\s*</defs>", "", text, flags=re.S
    )
    text = re.sub(r"\s*<metadata>.*?</metadata>", "", text, flags=re.S)
    return text.replace(
        "<svg ", '<svg style="stroke-linejoin: round; stroke-linecap: butt" ', 1
    )


_COORDINATE = re.compile(r"(\d\.\d\d)\d+")


def _lean(text: str) -> str:
    """Drop what changes nothing: hundredths of a hundredth of a point, empty groups."""
    text = re.sub(r"<[^>]+>", lambda tag: _COORDINATE.sub(r"\1", tag[0]), text)
    text = re.sub(r"'DejaVu Sans'[^;\"]*", _FONTS, text)
    text = re.sub(r"\s*<g/>", "", text)
    return re.sub(r"\s*\n\s*", "\n", text)


def _described(text: str, figure: Figure, prefix: str) -> str:
    title, _, about = str(figure.get_label()).partition("\n")
    names = f'role="img" aria-labelledby="{prefix}title {prefix}about" '
    head = (
        f'<title id="title">{escape(title)}</title>\n'
        f'<desc id="about">{escape(about)}</desc>\n'
    )
    text = text.replace("<svg ", f"<svg {names}", 1)
    place = text.index(">", text.index("<svg ")) + 1
    return f"{text[:place]}\n{head}{text[place:].lstrip()}"


def _renamed(text: str, prefix: str) -> str:
    """Keep only ids that something refers to, each with the prefix."""
    used = set(re.findall(r'(?:url\(#|href="#)([^")]+)', text)) | {"title", "about"}

    def id_of(match: re.Match[str]) -> str:
        return f' id="{prefix}{match[1]}"' if match[1] in used else ""

    text = re.sub(r' id="([^"]+)"', id_of, text)
    return re.sub(r'(url\(#|href="#)', rf"\g<1>{prefix}", text)


def _for_page(text: str) -> str:
    text = text[text.index("<svg ") :]
    text = re.sub(r'(<svg [^>]*?) width="[^"]*"', r"\1", text, count=1, flags=re.S)
    text = re.sub(r'(<svg [^>]*?) height="[^"]*"', r"\1", text, count=1, flags=re.S)
    for color, name in _VARIABLES:
        text = re.sub(color, f"var(--{name}, {color})", text, flags=re.I)
    return text


_VARIABLES: Sequence[tuple[str, str]] = (
    (INK, "ink"),
    (QUIET, "quiet"),
    (GRID, "grid"),
    (BLUE, "blue"),
    (ORANGE, "orange"),
    (GREEN, "green"),
    ("#ffffff", "page"),
)
