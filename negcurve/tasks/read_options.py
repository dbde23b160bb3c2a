"""What `read` takes, and which of its options go together."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from negcurve.errors import FileError, InvalidValueError
from negcurve.files.patch_order import Order
from negcurve.files.safe import check_suffix
from negcurve.reading.search import PLACES
from negcurve.readings import DensityKind, DensityZero, PrintState
from negcurve.tasks.read_tablet import tablet_named

PICTURES = (".tif", ".tiff", ".png", ".jpg", ".jpeg", ".jpe")
"""Endings of scans; every other file is taken for a list of densities."""

_IDENTITY = re.compile(r"[0-9A-Fa-f]{8}")


@dataclass(frozen=True, eq=False, kw_only=True)
class ReadOptions:
    """What `read` takes.

    Attributes
    ----------
    inputs : sequence of path
        Scans, or lists of densities, all of one print.
    output : path, optional
        The readings, a CSV; nothing is written without it.
    target : path, optional
        The target that was printed, or its layout. Else it is looked for beside the
        scan and among the ready-made ones.
    profile : path, optional
        ICC profile of the scanner, instead of the one that the scan carries.
    gamma : float, optional
        Of the scan, instead of a profile; 1 for a linear scan.
    overlay : path, optional
        PNG that shows what was read where.
    numbers : bool
        Write all patch numbers on it.
    sheet : str, optional
        Name of the print; the first input's name by default.
    hours_dry : float, optional
        Time since the print was dry. [h]
    print_state : {"dry", "wet"}, optional
        Dry by default, or as the file says.
    corners_px : sequence of (x, y)
        Mark centres pointed at by hand: none, four, or two for a strip.
        [px of the upright scan]
    tablet : str or path, optional
        Step tablet that lay in the target's window during the exposure, as `31x0.10`,
        or a CSV of its densities. Without it one is looked for and only mentioned.
    film_over : bool
        Whether clear film lay over or under the tablet, as in the target's window.
    order : Order, optional
        In which the patches of a list were read.
    zero : {"absolute", "paper", "scanner"}, optional
        What density 0 of a list is; as the list says, else absolute.
    channel : DensityKind, optional
        Which density: of a scan, luminance by default, or that of one channel; of a
        list, luminance, then visual, where it has several.
    which : str, optional
        Of several prints in a scan: `left`, `right`, `top`, `bottom`, or the target's
        identity.
    wedge : path, optional
        CSV `step,density` of a reflection step wedge that lies in each scan; densities
        are then absolute.
    wedge_box : (left, top, width, height), optional
        Where the wedge lies, else it is looked for. [px of the upright scan]
    correct_glass : bool
        Take the scanner's own unevenness out where several scans tell it.
    overwrite : bool
        Replace output files that exist.
    """

    inputs: Sequence[Path | str]
    output: Path | str | None = None
    target: Path | str | None = None
    profile: Path | str | None = None
    gamma: float | None = None
    overlay: Path | str | None = None
    numbers: bool = False
    sheet: str | None = None
    hours_dry: float | None = None
    print_state: PrintState | None = None
    corners_px: Sequence[tuple[float, float]] = ()
    tablet: Path | str | None = None
    film_over: bool = True
    order: Order | None = None
    zero: DensityZero | None = None
    channel: DensityKind | None = None
    which: str | None = None
    wedge: Path | str | None = None
    wedge_box: tuple[float, float, float, float] | None = None
    correct_glass: bool = True
    overwrite: bool = False


def check_options(options: ReadOptions) -> None:
    """Refuse options that do not go together.

    Raises
    ------
    InvalidValueError
        If they contradict each other, or lie outside their range.
    FileError
        If an input is a folder, or an output's name is that of another kind of file.
    """
    _check_inputs(options.inputs)
    scans = [each for each in options.inputs if is_scan(each)]
    if options.profile is not None and options.gamma is not None:
        raise InvalidValueError(
            "a profile and a gamma were both given", where="profile", fix="Give one."
        )
    if options.output is not None:
        check_suffix(options.output, ".csv", ".txt", kind="list of readings")
    if options.overlay is not None:
        _check_overlay(options.overlay, scans)
    if options.corners_px:
        _check_corners(options.corners_px, scans)
    _check_kinds(options, scans)
    _check_wedge(options, scans)
    if options.tablet is not None:
        tablet_named(options.tablet)
    if options.hours_dry is not None and not options.hours_dry >= 0:
        raise InvalidValueError(
            f"{options.hours_dry:g} is no time since drying",
            where="--hours-dry",
            fix="Give the hours since the print was dry, 0 or more.",
        )


def _check_inputs(inputs: Sequence[Path | str]) -> None:
    if not inputs:
        raise InvalidValueError(
            "nothing to read was named",
            where="inputs",
            fix="Name a scan, or an instrument's list of densities.",
        )
    folders = [each for each in inputs if Path(each).is_dir()]
    if folders:
        raise FileError(
            "is a folder",
            where=str(folders[0]),
            fix="Name the scans or lists in it.",
        )
    files = [Path(each).resolve() for each in inputs]
    twice = [each for each in files if files.count(each) > 1]
    if twice:
        raise InvalidValueError(
            "is named twice, and would count as two readings of the print",
            where=twice[0].name,
            fix="Name each scan or list once.",
        )


def _check_overlay(overlay: Path | str, scans: Sequence[Path | str]) -> None:
    check_suffix(overlay, ".png", kind="PNG")
    if len(scans) != 1:
        raise InvalidValueError(
            f"an overlay shows one scan, {len(scans) or 'none'} given",
            where="--overlay",
            fix="Read the scans one by one to see each.",
        )


def _check_kinds(options: ReadOptions, scans: Sequence[Path | str]) -> None:
    """Refuse what is said of lists where there are scans, and the reverse."""
    lists = len(scans) < len(options.inputs)
    for name in ("order", "zero"):
        if getattr(options, name) is not None and not lists:
            raise InvalidValueError(
                "is said of an instrument's list, but none is read",
                where=f"--{name}",
                fix="Leave it away: a scan finds its patches and its zero by itself.",
            )
    for name in ("profile", "gamma"):
        if getattr(options, name) is not None and not scans:
            raise InvalidValueError(
                "is said of a scan, but none is read",
                where=f"--{name}",
                fix="Leave it away for lists.",
            )
    if scans and options.channel == "visual":
        raise InvalidValueError(
            "a scan gives no visual density",
            where="--channel",
            fix="Use luminance, or red, green or blue for one channel of the scan.",
        )
    if options.which is not None:
        _check_which(options.which, scans)


def _check_which(which: str, scans: Sequence[Path | str]) -> None:
    if not scans:
        raise InvalidValueError(
            "is said of prints in a scan, but no scan is read",
            where="--which",
            fix="Leave it away for lists.",
        )
    if which not in PLACES and not _IDENTITY.fullmatch(which):
        raise InvalidValueError(
            f"{which!r} is neither a place nor a target's number",
            where="--which",
            fix=f"Use {', '.join(PLACES)}, or the number that is printed on the "
            "target, such as 71CBCBFB.",
        )


def _check_wedge(options: ReadOptions, scans: Sequence[Path | str]) -> None:
    if options.wedge is not None and len(scans) < len(options.inputs):
        raise InvalidValueError(
            "a step wedge lies in a scan, but a list of densities is read",
            where="--wedge",
            fix="Leave it away for lists; read scans by themselves.",
        )
    if options.wedge_box is None:
        return
    if options.wedge is None:
        raise InvalidValueError(
            "says where a wedge lies, but not which wedge it is",
            where="--wedge-box",
            fix="Name its list of densities: --wedge W.csv.",
        )
    if len(scans) != 1:
        raise InvalidValueError(
            f"a place in one scan is meant, {len(scans)} are given",
            where="--wedge-box",
            fix="Read the scans one by one.",
        )


def _check_corners(
    corners: Sequence[tuple[float, float]], scans: Sequence[Path | str]
) -> None:
    if len(scans) != 1:
        raise InvalidValueError(
            f"marks are pointed at in one scan, {len(scans) or 'none'} given",
            where="--corner",
            fix="Read the scans one by one.",
        )
    if len(corners) not in (2, 4):
        raise InvalidValueError(
            f"places given: {len(corners)}; needed: one for each mark",
            where="--corner",
            fix="Give --corner X,Y four times, or twice for a strip.",
        )


def is_scan(path: Path | str) -> bool:
    """Tell whether a file is read as a picture, by the ending of its name."""
    return Path(path).suffix.lower() in PICTURES
