"""A page of sections as HTML: no script, nothing fetched, readable everywhere.

Knows how text, tables, figures and pictures become HTML; what is said is left to
`sections`.
"""

import base64
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from negcurve.plots.style import Drawing, svg_text, title_of
from negcurve.report.look import STYLE
from negcurve.values import Finding

_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""What a browser may load for the page: nothing but what stands in it."""


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A small picture that is put into the page.

    Attributes
    ----------
    content : bytes
        PNG or JPEG.
    kind : {"png", "jpeg"}
    width, height : int
        [px]
    caption : str
    text : str
        What it shows, for those who cannot see it.
    """

    content: bytes
    kind: str
    width: int
    height: int
    caption: str
    text: str


class Page:
    """A page that is being written, section by section."""

    def __init__(self, *, title: str, lead: str) -> None:
        self.title = title
        self.figures = 0
        self.parts = [
            "<header>",
            f"<h1>{escape(title)}</h1>",
            f'<p class="lead">{escape(lead)}</p>',
            "</header>",
        ]

    def section(self, title: str, text: str = "") -> None:
        """Begin a section."""
        self.parts.append(f"<h2>{escape(title)}</h2>")
        if text:
            self.paragraph(text)

    def paragraph(self, text: str, *, quiet: bool = False) -> None:
        """Add a paragraph."""
        kind = ' class="quiet"' if quiet else ""
        self.parts.append(f"<p{kind}>{escape(text)}</p>")

    def figure(self, figure: Drawing, *, caption: str = "") -> None:
        """Add a plot; its own title and description go with it."""
        self.figures += 1
        drawn = svg_text(figure, prefix=f"f{self.figures}-", inline=True)
        said = caption or title_of(figure)
        self.parts.append(
            f"<figure>\n{drawn}<figcaption>{escape(said)}</figcaption></figure>"
        )

    def pictures(self, pictures: Sequence[Picture]) -> None:
        """Add small pictures side by side, where the page is wide enough."""
        if pictures:
            inner = "\n".join(_picture(each) for each in pictures)
            self.parts.append(f'<div class="pair">\n{inner}\n</div>')

    def table(
        self,
        columns: Sequence[str],
        rows: Iterable[Sequence[str]],
        *,
        caption: str,
        numbers: int = 0,
    ) -> None:
        """Add a table; the last `numbers` columns are set as numbers."""
        first = len(columns) - numbers
        head = "".join(
            f'<th scope="col"{_number(k >= first)}>{escape(name)}</th>'
            for k, name in enumerate(columns)
        )
        body = "\n".join(
            "<tr>"
            + "".join(_cell(k, cell, k >= first) for k, cell in enumerate(row))
            + "</tr>"
            for row in rows
        )
        self.parts.append(
            f'<div class="wide"><table><caption>{escape(caption)}</caption>\n'
            f"<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody></table></div>"
        )

    def findings(self, findings: Iterable[Finding]) -> None:
        """Add findings as a list: what, where, what to do."""
        items = [_finding(each) for each in findings]
        if items:
            self.parts.append("<ul>\n" + "\n".join(items) + "\n</ul>")

    def items(self, texts: Iterable[str]) -> None:
        """Add a plain list."""
        inner = "\n".join(f"<li>{escape(text)}</li>" for text in texts)
        if inner:
            self.parts.append(f"<ul>\n{inner}\n</ul>")

    def commands(self, lines: Sequence[str]) -> None:
        """Add commands to copy."""
        self.parts.append(f"<pre><code>{escape(chr(10).join(lines))}</code></pre>")

    def html(self) -> str:
        """Return the whole page."""
        body = "\n".join(self.parts)
        return (
            '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
            f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
            '<meta name="color-scheme" content="light dark">\n'
            f"<title>{escape(self.title)}</title>\n<style>{STYLE}</style>\n</head>\n"
            f"<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
        )


def _number(numeric: bool) -> str:
    return ' class="n"' if numeric else ""


def _cell(place: int, text: str, numeric: bool) -> str:
    if place == 0 and not numeric:
        return f'<th scope="row">{escape(text)}</th>'
    return f"<td{_number(numeric)}>{escape(text)}</td>"


def _finding(finding: Finding) -> str:
    where = f"{escape(finding.where)}: " if finding.where else ""
    fix = f" {escape(finding.fix.rstrip('.'))}." if finding.fix else ""
    return (
        f'<li class="{finding.severity}"><strong>{finding.severity.capitalize()}:'
        f"</strong> {where}{escape(finding.what.rstrip('.'))}.{fix}</li>"
    )


def _picture(picture: Picture) -> str:
    data = base64.b64encode(picture.content).decode("ascii")
    return (
        f'<figure><img src="data:image/{picture.kind};base64,{data}" '
        f'width="{picture.width}" height="{picture.height}" '
        f'alt="{escape(picture.text, quote=True)}">'
        f"<figcaption>{escape(picture.caption)}</figcaption></figure>"
    )
