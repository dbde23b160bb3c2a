"""Cards for the bench: one result as text for a terminal and as a page to print.

Knows layout only; what stands on a card is put together by each task.
"""

import html
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from negcurve.darkroom.cautions import DEFER, Caution

WIDTH = 88

UNVERIFIED = "[unverified]"
"""Stands behind every value that is common practice without a source."""

UNVERIFIED_NOTE = (
    f"{UNVERIFIED}: common practice or memory, no source. Put your own test in its "
    "place."
)


@dataclass(frozen=True, kw_only=True)
class Section:
    """A heading with lines or a table below it.

    Attributes
    ----------
    heading : str
        May be empty.
    lines : tuple of str
        Paragraphs, wrapped to the width.
    columns : tuple of str
        Names of the table's columns, with units.
    rows : tuple of tuple of str
    detail : bool
        On the page, and in the text only when all of it is wanted.
    """

    heading: str = ""
    lines: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    detail: bool = False


@dataclass(frozen=True, kw_only=True)
class Card:
    """What one command says.

    Attributes
    ----------
    title : str
    sections : tuple of Section
    cautions : tuple of Caution
        Printed at the end, with whom to ask.
    figure : str
        SVG for the page; the text leaves it out.
    """

    title: str
    sections: tuple[Section, ...]
    cautions: tuple[Caution, ...] = ()
    figure: str = ""

    @property
    def all_sections(self) -> tuple[Section, ...]:
        """Sections with the note on unverified values and the cautions."""
        more = []
        if any(UNVERIFIED in text for text in self._texts()):
            more.append(Section(lines=(UNVERIFIED_NOTE,)))
        if self.cautions:
            lines = (*(str(caution) for caution in self.cautions), DEFER)
            more.append(Section(heading="Cautions", lines=lines))
        return (*self.sections, *more)

    def _texts(self) -> list[str]:
        texts = [str(caution) for caution in self.cautions]
        for section in self.sections:
            texts += [*section.lines, *(cell for row in section.rows for cell in row)]
        return texts

    def text(self, *, full: bool = False) -> str:
        """Return the card for a terminal, 88 columns wide; details only in full."""
        parts = [self.title]
        for section in self.all_sections:
            if section.detail and not full:
                continue
            parts.append("")
            if section.heading:
                parts.append(section.heading)
            for line in section.lines:
                parts.append(_wrapped(line))
            parts += _aligned(section.columns, section.rows)
        return "\n".join(parts)

    def page(self) -> str:
        """Return the card as one HTML page without outside parts, for A4 or Letter."""
        body = [f"<h1>{html.escape(self.title)}</h1>", self.figure]
        for section in self.all_sections:
            body.append("<section>")
            if section.heading:
                body.append(f"<h2>{html.escape(section.heading)}</h2>")
            body += [f"<p>{html.escape(line)}</p>" for line in section.lines]
            body += _html_table(section.columns, section.rows)
            body.append("</section>")
        return _PAGE.format(
            title=html.escape(self.title),
            style=_STYLE,
            body="\n".join(filter(None, body)),
        )


def _wrapped(line: str) -> str:
    return textwrap.fill(
        line,
        WIDTH,
        initial_indent="  ",
        subsequent_indent="    ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def _aligned(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    if not rows:
        return []
    table = [tuple(columns), *rows] if columns else list(rows)
    widths = [max(len(row[n]) for row in table) for n in range(len(table[0]))]
    lines = []
    for row in table:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
        lines += _table_row(cells, widths)
    return lines


def _table_row(cells: list[str], widths: list[int]) -> list[str]:
    """Lay out a row; a last cell that is too long runs on below its own start."""
    start = 2 + sum(width + 2 for width in widths[:-1])
    lead = "  " + "".join(cell + "  " for cell in cells[:-1])
    room = max(WIDTH - start, 24)
    last = textwrap.wrap(cells[-1].strip(), room, break_on_hyphens=False) or [""]
    lines = [(lead + last[0]).rstrip()]
    return lines + [" " * start + more for more in last[1:]]


def _html_table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    if not rows:
        return []
    lines = ["<table>"]
    if any(columns):
        heads = "".join(f"<th>{html.escape(name)}</th>" for name in columns)
        lines.append(f"<thead><tr>{heads}</tr></thead>")
    for row in rows:
        cells = "".join(f"<td>{html.escape(cell)}</td>" for cell in row)
        lines.append(f"<tr>{cells}</tr>")
    return [*lines, "</table>"]


_STYLE = """
body { font: 11pt/1.4 sans-serif; margin: 15mm auto; max-width: 180mm; color: #111; }
h1 { font-size: 15pt; margin: 0 0 4mm; }
h2 { font-size: 12pt; margin: 5mm 0 1mm; }
p { margin: 0 0 1mm; }
table { border-collapse: collapse; width: 100%; margin: 1mm 0; }
th, td { border-bottom: 0.2mm solid #999; padding: 1mm 3mm 1mm 0; text-align: left;
  vertical-align: top; }
svg { width: 100%; height: auto; }
section { break-inside: avoid; }
@media print { body { margin: 0; } @page { margin: 15mm; } }
"""

_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>{style}</style>
</head>
<body>
{body}
</body>
</html>
"""
