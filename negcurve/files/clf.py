"""Common LUT Format: a table of one dimension as XML.

Source: SMPTE ST 2136-1:2024, the successor of Academy S-2014-006, from memory: the
process list, LUT1D with an Array of dim "N 1" or "N 3", values of bit depth 32f as they
are; straight lines between samples.
"""

import uuid
from collections.abc import Iterable
from xml.etree import ElementTree as Xml

import numpy as np

from negcurve.errors import FileError
from negcurve.files.even_samples import row_text
from negcurve.values import FloatArray

NAMESPACE = "http://www.smpte-ra.org/ns/2136-1/2024"
VERSION = "3.0"


def clf_text(
    samples: FloatArray,
    *,
    name: str,
    notes: Iterable[str],
    input_is: str,
    output_is: str,
) -> str:
    """Write a table.

    Parameters
    ----------
    samples : array, shape (n, 1) or (n, 3)
        Wanted levels at even steps of the picture's level; one column serves all.
    name : str
    notes : iterable of str
        Descriptions.
    input_is, output_is : str
        What goes in and what comes out.

    Returns
    -------
    str
        XML; the identity follows from the content.
    """
    array = "\n".join(row_text(row) for row in samples)
    identity = uuid.uuid5(uuid.NAMESPACE_URL, f"{name}\n{input_is}\n{array}")
    root = Xml.Element(
        "ProcessList",
        {
            "xmlns": NAMESPACE,
            "id": f"urn:uuid:{identity}",
            "name": name,
            "compCLFversion": VERSION,
        },
    )
    for note in notes:
        Xml.SubElement(root, "Description").text = note
    Xml.SubElement(root, "InputDescriptor").text = input_is
    Xml.SubElement(root, "OutputDescriptor").text = output_is
    depths = {"inBitDepth": "32f", "outBitDepth": "32f", "interpolation": "linear"}
    table = Xml.SubElement(root, "LUT1D", {"id": "table", **depths})
    dim = f"{len(samples)} {samples.shape[1]}"
    Xml.SubElement(table, "Array", {"dim": dim}).text = f"\n{array}\n"
    Xml.indent(root)
    text = Xml.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def clf_samples(text: str, *, where: str) -> FloatArray:
    """Read the table of a file that `clf_text` wrote.

    Parameters
    ----------
    text : str
    where : str
        File, for messages.

    Returns
    -------
    array, shape (n, 1) or (n, 3)

    Raises
    ------
    FileError
        If there is no such table, or it is not whole.
    """
    try:
        array = Xml.fromstring(text.encode("utf-8")).find(f".//{{{NAMESPACE}}}Array")
    except Xml.ParseError as error:
        raise FileError(f"is no XML ({error})", where=where) from error
    if array is None:
        raise FileError("holds no table of one dimension", where=where)
    rows, columns = (int(each) for each in array.get("dim", "0 0").split())
    numbers = np.array([float(each) for each in (array.text or "").split()])
    if len(numbers) != rows * columns:
        raise FileError(f"has {len(numbers)} numbers for {rows}", where=where)
    return numbers.reshape(rows, columns)
