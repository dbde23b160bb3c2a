"""The steps of the demo: the commands' own tasks around a simulated darkroom.

Knows the files that each step reads and writes; what it all comes to is `demo`.
"""

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
import numpy.typing as npt

from negcurve.density import reflectance_from_lightness
from negcurve.files.tiff import GreyTiffWriter
from negcurve.negative.tones import STRAIGHT
from negcurve.plots.before_after import ShownPrint, before_after_figure
from negcurve.plots.style import save_figure
from negcurve.response.solution import Solution
from negcurve.response.verdict import Check
from negcurve.simulation.fields import Image, reduced
from negcurve.simulation.profile import encode, input_profile
from negcurve.simulation.scene import coast
from negcurve.simulation.scoring import PrintedError
from negcurve.simulation.setups import SetUp
from negcurve.target.layout import Layout
from negcurve.tasks.apply import ApplyOptions, apply
from negcurve.tasks.check import CheckOptions, check
from negcurve.tasks.read import ReadOptions, read
from negcurve.tasks.simulated import print_file, scan_to_file
from negcurve.tasks.solve import SolveOptions, solve
from negcurve.tasks.target import TargetOptions, target
from negcurve.values import Progress

BLACK_SHARE = 0.98
"""End rule of the demo's table, and of the aim that it is measured against."""

PICTURE_GAMMA = 563 / 256
"""Of the grey picture: 2.2 as near as a profile's 1/256 can say."""

FILM_BORDER_MM = 7.0
"""Clear film around a printed picture; it prints as a black border. [mm]"""

SHOWN_PX = 900
"""Width of the prints in the before and after picture, at least. [pixels]"""

NOTES = {
    "exposure": "6 min (simulated)",
    "lamp": "Shed bank (simulated)",
    "paper": "Saltmarsh cotton, brushed (simulated)",
}


@dataclass(frozen=True, kw_only=True)
class Sizes:
    """How large sheet and picture are.

    Attributes
    ----------
    sheet : str
    levels : int
    picture_px : (width, height)
    ppi : int
        Of the files for the printer.
    """

    sheet: str = "8x10in"
    levels: int = 51
    picture_px: tuple[int, int] = (2160, 1620)
    ppi: int = 360


QUICK = Sizes(sheet="5x7in", levels=31, picture_px=(720, 540), ppi=240)


FILES = (
    "01-picture.tif",
    "02-target.layout.json",
    "02-target.tif",
    "02-target-preview.png",
    "03-scan.tif",
    "04-readings.csv",
    "04-overlay.png",
    "05-table.json",
    "05-plot.png",
    "06-negative.tif",
    "06-proof.png",
    "06-negative-straight-line.tif",
    "07-second-target.layout.json",
    "07-second-target.tif",
    "08-second-scan.tif",
    "09-second-readings.csv",
    "09-second-overlay.png",
    "10-check.csv",
    "10-check.png",
    "11-before-after.png",
    "account.txt",
)
"""What the demo writes, in the order of the work."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Work:
    """One run: where its files go and the simulated darkroom that it uses.

    Attributes
    ----------
    folder : Path
    set_up : SetUp
    sizes : Sizes
    chance : int
        Seed of everything that is left to chance.
    overwrite : bool
    progress : Progress
    reached : list of one float
        Largest share reported.
    """

    folder: Path
    set_up: SetUp
    sizes: Sizes
    chance: int
    overwrite: bool
    progress: Progress
    reached: list[float] = field(default_factory=lambda: [0.0])

    @cached_property
    def tone(self) -> Image:
        """The picture, drawn once."""
        width, height = self.sizes.picture_px
        return coast(width=width, height=height)

    def file(self, name: str) -> Path:
        """Return the place of a file."""
        return self.folder / name

    def seed(self, number: int) -> int:
        """Return a seed of its own for each thing left to chance."""
        return self.chance * 1000 + number

    def part(self, start: float, stop: float) -> Progress:
        """Return the progress of a part of the work."""
        return lambda what, share: self.tell(what, start + (stop - start) * share)

    def tell(self, what: str, share: float) -> None:
        """Report progress, which never falls: some steps count from 0 twice."""
        self.reached[0] = max(self.reached[0], share)
        self.progress(what, self.reached[0])


def write_picture(work: Work) -> None:
    """Draw the picture and write it as 16-bit grey with its profile."""
    work.tell("drawing a picture", 0.0)
    light = reflectance_from_lightness(100 * work.tone)
    codes = np.rint(encode(light, PICTURE_GAMMA) * 65535).astype(np.uint16)
    with GreyTiffWriter(
        work.file("01-picture.tif"),
        width=codes.shape[1],
        height=codes.shape[0],
        resolution_ppi=work.sizes.ppi,
        description="An invented coast, drawn by negcurve demo",
        compression="deflate",
        profile=input_profile("Grey 2.2", gamma=PICTURE_GAMMA, matrix=None),
        overwrite=work.overwrite,
    ) as writer:
        writer.write(codes)


def first_round(work: Work) -> Solution:
    """Make a target, print, scan and read it, and solve."""
    sizes = work.sizes
    made = target(
        TargetOptions(
            output=work.file("02-target.tif"),
            sheet=sizes.sheet,
            levels=sizes.levels,
            ppi=sizes.ppi,
            preview=work.file("02-target-preview.png"),
            overwrite=work.overwrite,
        ),
        progress=work.part(0.08, 0.14),
    )
    _print_and_scan(work, made.layout, "02-target.tif", "03-scan.tif", number=1)
    read(
        ReadOptions(
            inputs=(work.file("03-scan.tif"),),
            output=work.file("04-readings.csv"),
            target=work.file("02-target.tif"),
            overlay=work.file("04-overlay.png"),
            hours_dry=24.0,
            overwrite=work.overwrite,
        ),
        progress=work.part(0.26, 0.36),
    )
    return solve(
        SolveOptions(
            readings=(work.file("04-readings.csv"),),
            output=work.file("05-table.json"),
            black_share=BLACK_SHARE,
            plot=work.file("05-plot.png"),
            notes=NOTES,
            overwrite=work.overwrite,
        ),
        progress=work.part(0.36, 0.42),
    ).solution


def _print_and_scan(
    work: Work, layout: Layout, negative: str, scan: str, *, number: int
) -> None:
    """Print and scan a target, with tape on its tape box as the target offers."""
    start = 0.14 if number == 1 else 0.56
    work.tell("printing and scanning (simulated)", start)
    covered = [] if layout.tape_box is None else [layout.tape_box]
    sheet = print_file(
        work.set_up, work.file(negative), covered=covered, seed=work.seed(number)
    )
    work.tell("printing and scanning (simulated)", start + 0.08)
    scan_to_file(
        work.set_up,
        sheet,
        work.file(scan),
        seed=work.seed(number + 10),
        overwrite=work.overwrite,
    )


def write_negatives(work: Work, solution: Solution) -> None:
    """Write the negative of the picture through the table, and the straight one."""
    apply(
        ApplyOptions(
            picture=work.file("01-picture.tif"),
            output=work.file("06-negative.tif"),
            table=solution,
            proof=work.file("06-proof.png"),
            colour="warm",
            overwrite=work.overwrite,
        ),
        progress=work.part(0.42, 0.48),
    )
    apply(
        ApplyOptions(
            picture=work.file("01-picture.tif"),
            output=work.file("06-negative-straight-line.tif"),
            table=STRAIGHT,
            ppi=work.sizes.ppi,
            overwrite=work.overwrite,
        )
    )


def second_round(work: Work, solution: Solution) -> Check:
    """Print and scan a target through the table, and check it."""
    sizes = work.sizes
    made = target(
        TargetOptions(
            output=work.file("07-second-target.tif"),
            sheet=sizes.sheet,
            levels=sizes.levels,
            seed=2,
            table=solution,
            overwrite=work.overwrite,
        ),
        progress=work.part(0.50, 0.56),
    )
    _print_and_scan(
        work, made.layout, "07-second-target.tif", "08-second-scan.tif", number=2
    )
    read(
        ReadOptions(
            inputs=(work.file("08-second-scan.tif"),),
            output=work.file("09-second-readings.csv"),
            target=work.file("07-second-target.tif"),
            overlay=work.file("09-second-overlay.png"),
            hours_dry=24.0,
            overwrite=work.overwrite,
        ),
        progress=work.part(0.68, 0.78),
    )
    return check(
        CheckOptions(
            readings=(work.file("09-second-readings.csv"),),
            table=work.file("05-table.json"),
            plot=work.file("10-check.png"),
            output=work.file("10-check.csv"),
            overwrite=work.overwrite,
        ),
        progress=work.part(0.78, 0.84),
    ).check


def write_before_after(work: Work, before: PrintedError, after: PrintedError) -> None:
    """Print both negatives of the picture and show them side by side."""
    work.tell("printing the picture (simulated)", 0.84)
    shown = []
    for number, (name, error) in enumerate(
        (("06-negative-straight-line.tif", before), ("06-negative.tif", after))
    ):
        sheet = print_file(
            work.set_up,
            work.file(name),
            border_mm=FILM_BORDER_MM,
            seed=work.seed(20 + number),
        )
        shown.append(
            ShownPrint(
                pixels=work.set_up.shown(sheet, width_px=SHOWN_PX),
                lightness=error.lightness,
                rms=error.rms,
            )
        )
    figure = before_after_figure(
        _on_screen(work.tone),
        before=shown[0],
        after=shown[1],
        image_tone=after.image_tone,
        aim=after.aim,
    )
    work.tell("drawing before and after", 0.93)
    save_figure(figure, work.file("11-before-after.png"), overwrite=work.overwrite)


def _on_screen(tone: Image) -> npt.NDArray[np.uint8]:
    small = reduced(tone, max(1, tone.shape[1] // SHOWN_PX))
    level = encode(reflectance_from_lightness(100 * small), None)
    grey = np.rint(255 * level).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)
