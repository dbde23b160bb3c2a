"""Lists of one invented print, in the forms that tests ask for."""

import numpy as np

from negcurve.density import lightness_from_density, reflectance_from_density
from negcurve.files.instrument_list import ListOptions, read_list
from tests.reading.prints import small_layout

LAYOUT = small_layout()


NM = np.arange(380, 731, 10)


TRUE = np.array([0.07 + 1.3 * patch.negative_level**1.5 for patch in LAYOUT.patches])


NUMBERS = [patch.number for patch in LAYOUT.patches]


LIGHTNESS = lightness_from_density(TRUE)


LIGHT = reflectance_from_density(TRUE)


ORDER = np.random.default_rng(8).permutation(len(NUMBERS))


def rows_of(*columns):
    return "\n".join(
        " ".join(str(each) for each in row) for row in zip(*columns, strict=True)
    )


def cgats(names, *columns, first="CGATS.17"):
    return (
        f"{first}\nNUMBER_OF_FIELDS {len(names)}\nBEGIN_DATA_FORMAT\n"
        f"{' '.join(names)}\nEND_DATA_FORMAT\nNUMBER_OF_SETS {len(columns[0])}\n"
        f"BEGIN_DATA\n{rows_of(*columns)}\nEND_DATA\n"
    )


def csv(name, values, **more):
    names, columns = ["patch", name, *more], [NUMBERS, values, *more.values()]
    rows = [",".join(str(each) for each in row) for row in zip(*columns, strict=True)]
    return "\n".join([",".join(names), *rows])


def read_text_of(tmp_path, text, layout=LAYOUT, name="list.txt", **options):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_list(path, layout, ListOptions(**options))


def spectra(density=TRUE):
    return np.outer(reflectance_from_density(density), np.ones(len(NM)))
