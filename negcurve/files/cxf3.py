"""Instrument files in CxF3 (ISO 17972-1), an XML format, read without trust.

A document type is refused, so entities cannot be declared; size and depth are bounded.
What the values mean is left to `quantities`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from negcurve.errors import FileError, ReadingsError
from negcurve.files.column_words import CHANNELS
from negcurve.files.safe import file_errors
from negcurve.files.text_table import KeyLine, Row, TextTable
from negcurve.values import Finding

LARGEST_BYTES = 20_000_000
DEEPEST = 40
"""Elements within elements; the format uses about ten."""

SINGLE_NUMBERS = (
    ("ColorCIELab", "L", "lab_l"),
    ("ColorCIELCh", "L", "lch_l"),
    ("ColorCIEXYZ", "Y", "xyz_y"),
    ("ColorCIExyY", "Y", "xyy_capy"),
)
"""Colour values, the part of them that tells how light a patch is, and its column."""

LEAST_MEASURED = ("target", "standard", "reference", "")
"""Types of objects that are wanted rather than measured where others stand beside
them, the least measured first. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class CxfTable:
    """The objects of a file, one row each, and what should be known about them."""

    table: TextTable
    findings: tuple[Finding, ...]


@dataclass
class _Build:
    """Builds the tree, with the line where each object begins."""

    source: str
    parser: expat.XMLParserType
    tree: TreeBuilder = field(default_factory=TreeBuilder)
    depth: int = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        if self.depth > DEEPEST:
            raise FileError(
                "nests its elements too deep",
                where=self.source,
                fix="Export the file again, as CxF3 of measured samples.",
            )
        plain = name.rpartition("}")[2]
        line = str(self.parser.CurrentLineNumber)
        self.tree.start(plain, {**attributes, "_line": line})

    def end(self, name: str) -> None:
        self.depth -= 1
        self.tree.end(name.rpartition("}")[2])

    def refuse(self, *_: object) -> None:
        raise FileError(
            "declares a document type, which these files never do",
            where=self.source,
            fix="Do not trust a file that does; export it again from the instrument.",
        )


def read_cxf(path: Path | str) -> CxfTable:
    """Read the objects of a CxF3 file that carry colour values.

    Parameters
    ----------
    path : path

    Returns
    -------
    CxfTable
        Columns `sample_id`, `sample_name`, and whichever of `lab_l`, `lch_l`, `xyz_y`,
        `xyy_capy`, `d_visual`, `d_red`, `d_green`, `d_blue` and `spectral_nm380` ...
        there are; what the file says of its measuring as keys that begin with `cxf.`.

    Raises
    ------
    FileError
        If the file is not well-formed, too large, declares a document type, or is
        another kind of XML.
    ReadingsError
        If it holds no values, or a spectrum's wavelengths are not stated.
    """
    source = Path(path).name
    with file_errors(path), Path(path).open("rb") as opened:
        content = opened.read(LARGEST_BYTES + 1)
    if len(content) > LARGEST_BYTES:
        raise FileError(
            f"is larger than {LARGEST_BYTES // 1_000_000} MB",
            where=str(path),
            fix="Export the measured patches only.",
        )
    root = _parsed(content, source)
    if root.tag != "CxF":
        raise FileError(
            f"is XML of another kind ({root.tag})",
            where=source,
            fix="Export the readings as CxF3, as CGATS text or as CSV.",
        )
    specified = {each.get("Id", ""): each for each in root.iter("ColorSpecification")}
    rows: list[Row] = []
    notes: list[str] = []
    for place, each in enumerate(_measured(root, notes), start=1):
        cells = _cells(each, specified, source, notes)
        names = {"sample_id": str(place), "sample_name": each.get("Name", "")}
        if cells:
            rows.append(Row(line=int(each.get("_line", "0")), cells={**names, **cells}))
    if not rows:
        raise ReadingsError(
            "holds no objects with colour values",
            where=source,
            fix="Export the file with its measured values: density, L*, XYZ, spectra.",
        )
    return CxfTable(
        table=_table(rows, _keys(root, notes), source),
        findings=_findings(notes, source),
    )


def _parsed(content: bytes, source: str) -> Element:
    parser = expat.ParserCreate(namespace_separator="}")
    build = _Build(source=source, parser=parser)
    parser.StartElementHandler = build.start
    parser.EndElementHandler = build.end
    parser.CharacterDataHandler = build.tree.data
    parser.StartDoctypeDeclHandler = build.refuse
    parser.EntityDeclHandler = build.refuse
    try:
        parser.Parse(content, True)
    except expat.ExpatError as error:
        raise FileError(
            f"is not well-formed XML: {error}",
            where=source,
            fix="Export or copy the file again.",
        ) from error
    return build.tree.close()


def _measured(root: Element, notes: list[str]) -> list[Element]:
    """Return the objects that were measured, not those that say what is wanted."""
    objects = [
        each for each in root.iter("Object") if len(each.findall("ColorValues/*"))
    ]
    types = dict.fromkeys(each.get("ObjectType", "") for each in objects)
    if len(types) < 2:
        return objects
    ranks = {
        name: LEAST_MEASURED.index(name.lower())
        if name.lower() in LEAST_MEASURED
        else len(LEAST_MEASURED)
        for name in types
    }
    most = max(ranks.values())
    kept = [name for name in types if ranks[name] == most]
    if len(kept) < len(types):
        notes.append(
            f"holds objects of the types {', '.join(types)}; {', '.join(kept)} was read"
        )
    return [each for each in objects if each.get("ObjectType", "") in kept]


def _cells(
    each: Element, specified: dict[str, Element], source: str, notes: list[str]
) -> dict[str, str]:
    values = each.find("ColorValues")
    if values is None:
        return {}
    cells: dict[str, str] = {}
    for tag, part, column in SINGLE_NUMBERS:
        found = _one(values, tag, notes)
        if found is not None:
            cells[column] = _text(found.find(part))
    spectrum = _one(values, "ReflectanceSpectrum", notes)
    if spectrum is not None:
        cells |= dict(_spectrum(spectrum, specified, source))
    for density in values.iter("ColorDensity"):
        cells |= _density(density, notes)
    return cells


def _one(values: Element, tag: str, notes: list[str]) -> Element | None:
    """Return the first of a kind; noted where there are several conditions."""
    found = values.findall(tag)
    if len(found) > 1:
        notes.append(
            f"gives {tag} for several conditions; the first was read "
            f"({found[0].get('ColorSpecification', 'not named')})"
        )
    return found[0] if found else None


def _spectrum(
    spectrum: Element, specified: dict[str, Element], source: str
) -> Iterator[tuple[str, str]]:
    name = spectrum.get("ColorSpecification", "")
    about = specified.get(name)
    span = None if about is None else about.find("MeasurementSpec/WavelengthRange")
    stated = {} if span is None else span.attrib
    start = spectrum.get("StartWL") or stated.get("StartWL", "")
    step = spectrum.get("Increment") or stated.get("Increment", "")
    try:
        first, increment = float(start), float(step)
    except ValueError:
        raise ReadingsError(
            f"does not state the wavelengths of its spectra (specification {name!r})",
            where=f"{source}, line {spectrum.get('_line')}",
            fix="Export the file with its measurement conditions.",
        ) from None
    for place, word in enumerate((spectrum.text or "").split()):
        yield f"spectral_nm{first + place * increment:g}", word


def _density(density: Element, notes: list[str]) -> dict[str, str]:
    """Read the densities of one element, each with its filter."""
    if _said(density, "offset") not in ("", "0", "0.0"):
        notes.append("its densities have an offset for the base")
    cells = {}
    for value in (density, *density.iter("Density")):
        word = _said(value, "filter") or _said(density, "filter")
        kind = CHANNELS.get(word.lower()) if len(word) > 1 else None
        if kind is not None and _text(value):  # filters A and B are others
            cells[f"d_{kind}"] = _text(value)
    return cells


def _said(element: Element, word: str) -> str:
    """Return an attribute or a part of an element whose name holds a word."""
    for name, value in element.attrib.items():
        if word in name.lower():
            return value.strip()
    for part in element:
        if word in part.tag.lower():
            return _text(part)
    return ""


def _text(element: Element | None) -> str:
    return "" if element is None else (element.text or "").strip()


def _keys(root: Element, notes: list[str]) -> tuple[KeyLine, ...]:
    """Return what the file says of itself as a whole."""
    keys = [("cxf.base_offset", "yes")] if any("offset" in n for n in notes) else []
    about = root.find("FileInformation")
    for part in () if about is None else about:
        keys.append((f"cxf.{part.tag.lower()}", _text(part)))
    for density in root.iter("ColorDensity"):
        keys.append(("cxf.status", _said(density, "status")))
    for spec in root.iter("TristimulusSpec"):
        for part in spec:
            keys.append((f"cxf.{part.tag.lower()}", _text(part)))
    return tuple(KeyLine(line=1, key=key, value=value) for key, value in keys if value)


def _table(rows: list[Row], keys: tuple[KeyLine, ...], source: str) -> TextTable:
    columns = dict.fromkeys(name for row in rows for name in row.cells)
    return TextTable(source=source, keys=keys, columns=tuple(columns), rows=tuple(rows))


def _findings(notes: list[str], source: str) -> tuple[Finding, ...]:
    return tuple(
        Finding(severity="note", where=source, what=note)
        for note in dict.fromkeys(notes)
    )
