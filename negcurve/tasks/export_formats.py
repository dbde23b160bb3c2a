"""What `export` writes in each format, and how that format's readers follow it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from negcurve.errors import FileError
from negcurve.files.clf import clf_samples, clf_text
from negcurve.files.cube import MOST_SAMPLES, cube_samples, cube_text
from negcurve.files.even_samples import followed
from negcurve.files.icc import profile_tags
from negcurve.files.icc_lut import LARGEST, MOST_ENTRIES, Lut16, curves_of_tag
from negcurve.files.icc_write import (
    LAB_FULL,
    LAB_NEUTRAL,
    grey_profile,
    link_profile,
)
from negcurve.files.table_csv import table_csv_samples, table_csv_text
from negcurve.negative.exporting import ExportedMap, Map
from negcurve.values import FloatArray


@dataclass(frozen=True, eq=False, kw_only=True)
class Export:
    """What one file is to hold.

    Attributes
    ----------
    exported : ExportedMap
    points : int
        Samples.
    encoding : str
        What the picture's levels are taken for; empty where a profile tells.
    notes : dict of str to str
        For the reader, in order; the first is the largest error once it was measured.
    """

    exported: ExportedMap
    points: int
    encoding: str
    notes: dict[str, str]

    @property
    def samples(self) -> FloatArray:
        """What comes out at even steps of the picture's level."""
        return self.exported.of_level(np.linspace(0, 1, self.points))

    @property
    def title(self) -> str:
        """Short name."""
        return f"negcurve table {self.exported.table.identity}"

    @property
    def input_is(self) -> str:
        """What goes in, in words."""
        return f"levels of a grey picture, {self.encoding}"

    @property
    def output_is(self) -> str:
        """What comes out, in words."""
        kind = "levels" if self.exported.channels == 1 else "red, green and blue levels"
        if self.exported.inverted:
            return f"{kind} of the negative, 0 full ink to 1 clear film"
        return f"{kind} of the positive whose inverse is the negative"

    @property
    def lines(self) -> tuple[str, ...]:
        """Notes as lines."""
        return tuple(f"{key}: {text}" for key, text in self.notes.items())


@dataclass(frozen=True, eq=False, kw_only=True)
class Format:
    """One kind of file.

    Attributes
    ----------
    name : str
        For people.
    content : function
        The whole file of an `Export`.
    followed : function
        The map that a reader makes of the file; takes the file and its name.
    wanted : function
        The exact map of the same input.
    points, most_points : int
        Samples by default and at most.
    """

    name: str
    content: Callable[[Export], bytes]
    followed: Callable[[bytes, str], Map]
    wanted: Callable[[ExportedMap], Map]
    points: int = MOST_ENTRIES
    most_points: int = MOST_ENTRIES


def _of_level(exported: ExportedMap) -> Map:
    return exported.of_level


def _link(export: Export) -> bytes:
    return link_profile(
        export.samples,
        description=f"{export.title}. {'. '.join(export.lines)}",
        sequence=(export.input_is, export.output_is),
    )


def _link_followed(content: bytes, where: str) -> Map:
    curves = curves_of_tag(_tag(content, b"A2B0", where), where=where)
    return lambda level: np.column_stack([curve(level) for curve in curves])


def _tag(content: bytes, name: bytes, where: str) -> bytes:
    tags = profile_tags(content)
    if name not in tags:
        raise FileError(f"has no tag {name.decode('ascii')}", where=where)
    return tags[name]


def _profile(export: Export) -> bytes:
    exported = export.exported
    steps = np.linspace(0, 1, export.points)
    return grey_profile(
        exported.of_lightness(LAB_FULL * steps)[:, 0],
        exported.lightness_of(steps),
        description=f"{export.title}. {'. '.join(export.lines)}",
    )


def _profile_followed(content: bytes, where: str) -> Map:
    lut = Lut16.from_tag(_tag(content, b"B2A1", where), where=where)

    def read(tone: FloatArray) -> FloatArray:
        neutral = np.full(len(tone), LAB_NEUTRAL / LARGEST)
        lab = np.column_stack([100 * tone / LAB_FULL, neutral, neutral])
        return lut.apply(lab)

    return read


def _of_tone(exported: ExportedMap) -> Map:
    return exported.of_tone


def _clf(export: Export) -> bytes:
    text = clf_text(
        export.samples,
        name=export.title,
        notes=export.lines,
        input_is=export.input_is,
        output_is=export.output_is,
    )
    return text.encode("utf-8")


def _clf_followed(content: bytes, where: str) -> Map:
    samples = clf_samples(content.decode("utf-8"), where=where)
    return lambda level: followed(samples, level)


def _cube(export: Export) -> bytes:
    text = cube_text(export.samples, title=export.title, notes=export.lines)
    return text.encode("ascii")


def _cube_followed(content: bytes, where: str) -> Map:
    samples = cube_samples(content.decode("ascii"), where=where)
    return lambda level: followed(samples, level)


def _csv(export: Export) -> bytes:
    columns: tuple[str, ...] = ("red", "green", "blue")
    if export.exported.channels == 1:
        columns = ("negative_level" if export.exported.inverted else "positive_level",)
    notes = {"title": export.title, **export.notes}
    text = table_csv_text(export.samples, columns=columns, notes=notes)
    return text.encode("utf-8")


def _csv_followed(content: bytes, where: str) -> Map:
    samples = table_csv_samples(content.decode("utf-8"), where=where)
    return lambda level: followed(samples, level)


FORMATS = {
    "link": Format(
        name="ICC device link",
        content=_link,
        followed=_link_followed,
        wanted=_of_level,
    ),
    "profile": Format(
        name="ICC grey profile",
        content=_profile,
        followed=_profile_followed,
        wanted=_of_tone,
    ),
    "clf": Format(
        name="Common LUT Format",
        content=_clf,
        followed=_clf_followed,
        wanted=_of_level,
        most_points=MOST_SAMPLES,
    ),
    "cube": Format(
        name="Cube table",
        content=_cube,
        followed=_cube_followed,
        wanted=_of_level,
        most_points=MOST_SAMPLES,
    ),
    "csv": Format(
        name="CSV table",
        content=_csv,
        followed=_csv_followed,
        wanted=_of_level,
        points=256,
        most_points=MOST_SAMPLES,
    ),
}
"""The kinds of file by the word that names them."""

SUFFIXES = {
    ".icc": ("link", "profile"),
    ".icm": ("link", "profile"),
    ".clf": ("clf",),
    ".cube": ("cube",),
    ".csv": ("csv",),
}
"""Kinds by the ending of the file's name, the usual one first."""
