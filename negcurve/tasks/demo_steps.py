"""The steps of the demo: the commands' own tasks around a simulated darkroom.

Knows the files that each step reads and writes; what it all comes to is `demo`.
"""

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
from negcurve.simulation.scoring import PrintedError
from negcurve.target.layout import Layout
from negcurve.tasks.apply import ApplyOptions, apply
from negcurve.tasks.check import CheckOptions, check
from negcurve.tasks.demo_work import Work
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from negcurve.tasks.simulated import print_file, scan_to_file
from negcurve.tasks.solve import SolveOptions, solve
from negcurve.tasks.target import TargetOptions, target

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
    work.note(made.findings)
    _print_and_scan(work, made.layout, "02-target.tif", "03-scan.tif", number=1)
    scan = read(
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
    work.note(scan.findings)
    solved = solve(
        SolveOptions(
            readings=(work.file("04-readings.csv"),),
            output=work.file("05-table.json"),
            black_share=BLACK_SHARE,
            plot=work.file("05-plot.png"),
            notes=NOTES,
            overwrite=work.overwrite,
        ),
        progress=work.part(0.36, 0.42),
    )
    work.note(solved.findings)
    return solved.solution


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
    applied = apply(
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
    work.note(applied.findings)
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
    work.note(made.findings)
    _print_and_scan(
        work, made.layout, "07-second-target.tif", "08-second-scan.tif", number=2
    )
    scan = read(
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
    work.note(scan.findings)
    checked = check(
        CheckOptions(
            readings=(work.file("09-second-readings.csv"),),
            table=work.file("05-table.json"),
            plot=work.file("10-check.png"),
            output=work.file("10-check.csv"),
            overwrite=work.overwrite,
        ),
        progress=work.part(0.78, 0.84),
    )
    work.note(checked.findings)
    return checked.check


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
