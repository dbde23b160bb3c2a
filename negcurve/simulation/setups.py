"""Invented darkrooms and scanners: one by name for the demo, any number by seed."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from negcurve.simulation.coating import Coating
from negcurve.simulation.darkroom import Darkroom, SheetPrint
from negcurve.simulation.fields import reduced
from negcurve.simulation.film import Film
from negcurve.simulation.lamp import Lamp
from negcurve.simulation.paper import CharacteristicCurve, ImageColour, Paper
from negcurve.simulation.profile import WIDE_TO_XYZ_D50
from negcurve.simulation.scanner import Scan, Scanner
from negcurve.simulation.scanner_encoding import ScannerEncoding
from negcurve.simulation.wedge import LaidWedge

COLOURS = (
    ImageColour(name="warm black", red=0.94, green=1.01, blue=1.08),
    ImageColour(name="neutral black"),
    ImageColour(name="blue", red=1.35, green=1.0, blue=0.62),
    ImageColour(name="brown", red=0.82, green=1.02, blue=1.3),
)

ENCODINGS = (
    ScannerEncoding(name="Scanner sRGB"),
    ScannerEncoding(name="Scanner sRGB 8", bits=8, tagged=False),
    ScannerEncoding(name="Scanner wide", gamma=2.2, matrix=WIDE_TO_XYZ_D50),
    ScannerEncoding(name="Scanner raw", gamma=1.0),
    ScannerEncoding(name="Scanner grey 1.8", channels=1, gamma=1.8),
    ScannerEncoding(name="Scanner grey 2.2", channels=1, gamma=2.2),
)


@dataclass(frozen=True, kw_only=True)
class SetUp:
    """A darkroom and a scanner.

    Attributes
    ----------
    name : str
        Invented.
    darkroom : Darkroom
    scanner : Scanner
    wedge : LaidWedge or None
        Lies beside the print in every scan.
    """

    name: str
    darkroom: Darkroom
    scanner: Scanner
    wedge: LaidWedge | None = None

    def scan_print(self, sheet: SheetPrint, *, seed: int) -> Scan:
        """Scan a print of this darkroom on this scanner."""
        return self.scanner.scan(
            sheet.reflectance,
            resolution_ppi=sheet.resolution_ppi,
            colour=self.darkroom.paper.colour,
            wedge=self.wedge,
            seed=seed,
        )

    def shown(self, sheet: SheetPrint, *, width_px: int) -> npt.NDArray[np.uint8]:
        """Show a print on a screen.

        Parameters
        ----------
        sheet : SheetPrint
            Of this darkroom.
        width_px : int
            At least; the print is reduced by whole blocks of pixels.

        Returns
        -------
        array of uint8, shape (rows, columns, 3)
            sRGB.
        """
        block = max(1, sheet.reflectance.shape[1] // width_px)
        light = reduced(sheet.reflectance, block)
        screen = ScannerEncoding(name="screen", bits=8)
        return screen.codes(light, self.darkroom.paper.colour)


def demo_set_up() -> SetUp:
    """Return the demo's set-up: a warm black process, brushed by hand."""
    film = Film(
        name="Harbour ink on clear film",
        full_ink_density=2.6,
        base_density=0.1,
        driver_power=0.9,
        dot_gain=0.14,
        spread=4.0,
        ink_limit=0.92,
        kink_ink=0.55,
        kink_strength=0.25,
    )
    curve = CharacteristicCurve(
        d_min=0.08, d_max=1.42, gradient=0.95, toe=0.16, shoulder=0.14
    )
    coating = Coating(streaks=0.035, streak_mm=2.5, clouds=0.03)
    paper = Paper(
        name="Saltmarsh cotton, brushed",
        curve=curve,
        bare_density=0.06,
        coating=coating,
        colour=COLOURS[0],
    )
    scanner = Scanner(
        name="Attic flatbed",
        encoding=ENCODINGS[0],
        resolution_ppi=240,
        skew_deg=1.7,
        gain=0.99,
    )
    return SetUp(
        name="Harbour ink on Saltmarsh paper",
        darkroom=Darkroom(
            film=film, lamp=Lamp(name="Shed bank"), paper=paper, black_share=0.991
        ),
        scanner=scanner,
    )


def random_set_up(seed: int) -> SetUp:
    """Return a set-up with ink, paper, lamp and scanner drawn at random.

    Parameters
    ----------
    seed : int
        One seed is one set-up, always the same.

    Returns
    -------
    SetUp
    """
    rng = np.random.default_rng([seed, 20])
    paper = _random_paper(rng, seed)
    curve = paper.curve
    scale = (curve.d_max - curve.d_min) / curve.gradient
    darkroom = Darkroom(
        film=_random_film(rng, seed, scale),
        lamp=Lamp(
            name=f"Lamp {seed}",
            height_mm=rng.uniform(40, 90),
            overhang_mm=rng.uniform(60, 140),
            tilt_across=rng.normal(0, 0.015),
            tilt_down=rng.normal(0, 0.015),
        ),
        paper=paper,
        black_share=rng.uniform(0.965, 0.992),
    )
    return SetUp(
        name=f"Set-up {seed}", darkroom=darkroom, scanner=_random_scanner(rng, seed)
    )


def _random_film(rng: np.random.Generator, seed: int, scale: float) -> Film:
    """Ink that covers the paper's exposure scale, with a little or much to spare."""
    spread, limit = rng.uniform(2.0, 6.0), rng.uniform(0.9, 1.0)
    wanted = scale + rng.uniform(0.35, 1.1)
    film = Film(
        name=f"Ink {seed}",
        full_ink_density=wanted,
        base_density=rng.uniform(0.04, 0.16),
        driver_power=rng.uniform(0.75, 1.3),
        dot_gain=rng.uniform(0.0, 0.2),
        spread=spread,
        ink_limit=limit,
        kink_ink=rng.uniform(0.35, 0.7),
        kink_strength=rng.uniform(-0.2, 0.4),
        blur_mm=rng.uniform(0.03, 0.07),
        graininess=rng.uniform(0.01, 0.03),
    )
    # Solid ink so dense that the share laid at the limit still gives what is wanted.
    root = 1 - (1 - 10 ** (-wanted / spread)) / float(film.coverage(0.0))
    solid = -spread * float(np.log10(max(root, 10 ** (-5 / spread))))
    return replace(film, full_ink_density=solid)


def _random_paper(rng: np.random.Generator, seed: int) -> Paper:
    bare = rng.uniform(0.04, 0.09)
    d_max = rng.uniform(1.2, 1.65)
    scale = rng.uniform(1.0, 2.1)
    d_min = bare + rng.uniform(0.0, 0.03)
    curve = CharacteristicCurve(
        d_min=d_min,
        d_max=d_max,
        gradient=(d_max - d_min) / scale,
        toe=rng.uniform(0.08, 0.22),
        shoulder=rng.uniform(0.08, 0.2),
    )
    coating = Coating(
        streaks=rng.uniform(0.01, 0.035),
        streak_mm=rng.uniform(1.5, 5.0),
        clouds=rng.uniform(0.01, 0.04),
        stroke="down" if rng.random() < 0.5 else "across",
    )
    return Paper(
        name=f"Paper {seed}",
        curve=curve,
        bare_density=bare,
        coating=coating,
        colour=COLOURS[int(rng.integers(len(COLOURS)))],
        grain=rng.uniform(0.01, 0.03),
    )


def _random_scanner(rng: np.random.Generator, seed: int) -> Scanner:
    return Scanner(
        name=f"Scanner {seed}",
        encoding=ENCODINGS[int(rng.integers(len(ENCODINGS)))],
        resolution_ppi=float(rng.choice([200, 240, 300, 400])),
        skew_deg=rng.uniform(-4, 4),
        keystone=rng.uniform(-0.002, 0.002),
        stretch=rng.uniform(-0.002, 0.002),
        quarter_turns=int(rng.integers(4)),
        border_mm=rng.uniform(6, 12),
        lid=rng.uniform(0.1, 0.9),
        flare=rng.uniform(0.002, 0.01),
        gain=rng.uniform(0.98, 1.02),
        tone_power=rng.uniform(0.99, 1.01),
        unevenness=rng.uniform(0.0, 0.006),
    )
