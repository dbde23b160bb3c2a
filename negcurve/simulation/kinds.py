"""Set-ups of three kinds for judging how prints are read: ordinary to very hard.

Drawn by seed from what flatbeds and hand-coated prints do; each has a step wedge beside
the print. Nothing in the package is tuned to them.
"""

from dataclasses import replace
from typing import Literal, get_args

import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.simulation.darkroom import Darkroom
from negcurve.simulation.paper import Paper
from negcurve.simulation.profile import WIDE_TO_XYZ_D50
from negcurve.simulation.scanner import Scanner
from negcurve.simulation.scanner_encoding import ScannerEncoding
from negcurve.simulation.setups import SetUp, random_set_up
from negcurve.simulation.software import ScanSoftware
from negcurve.simulation.wedge import LaidWedge, ReflectionWedge

Kind = Literal["ordinary", "hard", "very hard"]

ORDINARY_ENCODINGS = (
    ScannerEncoding(name="Scanner sRGB"),
    ScannerEncoding(name="Scanner wide", gamma=2.2, matrix=WIDE_TO_XYZ_D50),
    ScannerEncoding(name="Scanner raw", gamma=1.0),
    ScannerEncoding(name="Scanner grey 2.2", channels=1, gamma=2.2),
    ScannerEncoding(name="Scanner sRGB 8", bits=8),
)

HARD_ENCODINGS = (
    ScannerEncoding(name="Scanner sRGB 8", bits=8),
    ScannerEncoding(name="Scanner sRGB 8 untagged", bits=8, tagged=False),
    ScannerEncoding(name="Scanner wide 8", bits=8, gamma=2.2, matrix=WIDE_TO_XYZ_D50),
    ScannerEncoding(name="Scanner grey 1.8", bits=8, channels=1, gamma=1.8),
)

VERY_HARD_ENCODINGS = (
    ScannerEncoding(name="Scanner sRGB 8 untagged", bits=8, tagged=False),
    ScannerEncoding(name="Scanner grey 8 untagged", bits=8, channels=1, tagged=False),
    ScannerEncoding(name="Scanner 1.8 untagged", gamma=1.8, tagged=False),
)


def set_up_of_kind(kind: Kind, seed: int) -> SetUp:
    """Draw a set-up of a kind.

    Parameters
    ----------
    kind : {"ordinary", "hard", "very hard"}
        Ordinary: 16 bits, or 300 ppi in colour, skew, uneven coating. Hard: 8 bits, 150
        to 240 ppi, prints weak or streaked. Very hard: auto levels, sharpened,
        untagged, cropped into the margins, rough coating.
    seed : int
        One seed and kind is one set-up, always the same.

    Returns
    -------
    SetUp
    """
    kinds = get_args(Kind)
    if kind not in kinds:
        raise InvalidValueError(f"must be one of {', '.join(kinds)}", where="kind")
    rng = np.random.default_rng([seed, 40 + kinds.index(kind)])
    base = random_set_up(int(rng.integers(1 << 30)))
    darkroom, scanner = {
        "ordinary": _ordinary,
        "hard": _hard,
        "very hard": _very_hard,
    }[kind](base, rng)
    return SetUp(
        name=f"{kind} {seed}",
        darkroom=darkroom,
        scanner=scanner,
        wedge=random_wedge(rng),
    )


def random_wedge(rng: np.random.Generator) -> LaidWedge:
    """Draw a wedge and how it was laid: any side, any turn along it, askew."""
    step = float(rng.choice([0.1, 0.15]))
    density = rng.uniform(0.04, 0.08) + step * np.arange(round(1.9 / step) + 1)
    # Makers hit their aim to a few hundredths and state what they hit.
    density[1:] += rng.uniform(-0.02, 0.02, len(density) - 1)
    border = float(rng.choice([0.0, 3.0]))
    wedge = ReflectionWedge(
        density=tuple(np.round(density, 2).tolist()),
        step_mm=rng.uniform(4.5, 8.0),
        width_mm=rng.uniform(9.0, 20.0),
        border_mm=border,
        border_density=float(rng.choice([0.05, 1.6])),
    )
    side = ("left", "right", "top", "bottom")[int(rng.integers(4))]
    upright = side in ("left", "right")
    return LaidWedge(
        wedge=wedge,
        side=side,  # type: ignore[arg-type]  # one of the four
        gap_mm=rng.uniform(2.0, 10.0),
        along=rng.uniform(0.0, 1.0),
        quarter_turns=2 * int(rng.integers(2)) + upright,
        askew_deg=rng.uniform(-4.0, 4.0),
    )


def _ordinary(base: SetUp, rng: np.random.Generator) -> tuple[Darkroom, Scanner]:
    encoding = ORDINARY_ENCODINGS[int(rng.integers(len(ORDINARY_ENCODINGS)))]
    ppi = 300.0 if encoding.bits == 8 else float(rng.choice([240, 300, 400]))
    scanner = replace(base.scanner, encoding=encoding, resolution_ppi=ppi)
    return base.darkroom, scanner


def _hard(base: SetUp, rng: np.random.Generator) -> tuple[Darkroom, Scanner]:
    darkroom = base.darkroom
    paper, coating = darkroom.paper, darkroom.paper.coating
    if rng.random() < 0.5:
        paper = _weaker(base, rng.uniform(0.9, 1.1))
    else:
        coating = replace(coating, streaks=rng.uniform(0.03, 0.06))
        darkroom = replace(
            darkroom,
            lamp=replace(
                darkroom.lamp,
                streaks=rng.uniform(0.005, 0.015),
                streak_mm=rng.uniform(5, 20),
                streak_seed=int(rng.integers(1 << 30)),
            ),
            film=replace(
                darkroom.film,
                banding=rng.uniform(0.005, 0.015),
                banding_mm=rng.uniform(1.5, 6),
            ),
        )
    darkroom = replace(darkroom, paper=replace(paper, coating=coating))
    scanner = replace(
        base.scanner,
        encoding=HARD_ENCODINGS[int(rng.integers(len(HARD_ENCODINGS)))],
        resolution_ppi=float(rng.choice([150, 150, 200, 240])),
    )
    return darkroom, scanner


def _weaker(base: SetUp, d_max: float) -> Paper:
    """Paper of the same exposure scale whose blacks reach less."""
    paper = base.darkroom.paper
    curve = paper.curve
    share = (d_max - curve.d_min) / (curve.d_max - curve.d_min)
    weak = replace(curve, d_max=d_max, gradient=curve.gradient * share)
    return replace(paper, curve=weak)


def _very_hard(base: SetUp, rng: np.random.Generator) -> tuple[Darkroom, Scanner]:
    paper = base.darkroom.paper
    coating = replace(
        paper.coating,
        streaks=rng.uniform(0.05, 0.1),
        clouds=rng.uniform(0.03, 0.06),
        gaps=rng.uniform(2, 10),
        edge_mm=2.0,
    )
    rough = replace(
        paper,
        coating=coating,
        grain=rng.uniform(0.03, 0.05),
        relief=rng.uniform(0.02, 0.05),
        relief_mm=rng.uniform(0.15, 0.35),
    )
    levels = ("picture", "channels")[int(rng.integers(2))]
    software = ScanSoftware(
        auto_levels=levels,  # type: ignore[arg-type]  # one of the two
        black_percent=rng.uniform(0.0, 0.3),
        white_percent=rng.uniform(0.0, 0.3),
        contrast=float(rng.choice([0.0, rng.uniform(1.0, 4.0)])),
        sharpening=rng.uniform(0.3, 1.2),
        sharpening_px=rng.uniform(0.8, 2.0),
    )
    # Into the margin on some sides; with skew it may take half a mark with it.
    most = np.array([9.0, 16.0, 9.0, 16.0])
    crop = np.where(rng.random(4) < 0.4, rng.uniform(2.0, most), 0.0).tolist()
    scanner = replace(
        base.scanner,
        encoding=VERY_HARD_ENCODINGS[int(rng.integers(len(VERY_HARD_ENCODINGS)))],
        resolution_ppi=float(rng.choice([150, 200, 300])),
        border_mm=rng.uniform(-2.0, 2.0),
        crop_mm=(crop[0], crop[1], crop[2], crop[3]),
        lid=float(rng.choice([0.03, 0.9])),
        software=software,
    )
    return replace(base.darkroom, paper=rough), scanner
