"""What the demo's steps share: its files, sizes, seeds and progress."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from negcurve.simulation.fields import Image
from negcurve.simulation.scene import coast
from negcurve.simulation.setups import SetUp
from negcurve.values import Finding, Progress


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
    findings : list of Finding
        What the tasks brought up, in order.
    """

    folder: Path
    set_up: SetUp
    sizes: Sizes
    chance: int
    overwrite: bool
    progress: Progress
    reached: list[float] = field(default_factory=lambda: [0.0])
    findings: list[Finding] = field(default_factory=list)

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

    def note(self, findings: Iterable[Finding]) -> None:
        """Keep what a task brought up, once."""
        self.findings.extend(each for each in findings if each not in self.findings)

    def tell(self, what: str, share: float) -> None:
        """Report progress, which never falls: some steps count from 0 twice."""
        self.reached[0] = max(self.reached[0], share)
        self.progress(what, self.reached[0])
