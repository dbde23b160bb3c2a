"""Read a print: from scans, or from densities of an instrument, to a readings file."""

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from negcurve.darkroom.tablet import Tablet
from negcurve.encoding import Encoding
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.instrument_list import ListOptions
from negcurve.files.layout_json import layouts_known
from negcurve.files.patch_order import Order
from negcurve.files.pictures import open_picture
from negcurve.files.png import write_png
from negcurve.files.readings_csv import write_readings
from negcurve.files.safe import check_outputs, check_suffix
from negcurve.plots.overlay import overlay
from negcurve.reading.averaging import average
from negcurve.reading.channels import CHANNELS, one_channel
from negcurve.reading.scan import ScanReading, read_target
from negcurve.readings import DensityKind, DensityZero, PrintState, Readings
from negcurve.target.layout import Box
from negcurve.tasks.read_list import list_readings
from negcurve.tasks.read_tablet import read_window, tablet_named
from negcurve.tasks.scan_encoding import scan_encoding
from negcurve.values import Finding, ImageSource, Progress, no_progress

PICTURES = (".tif", ".tiff", ".png", ".jpg", ".jpeg", ".jpe")
"""Endings of scans; every other file is taken for a list of densities."""


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
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class ReadResult:
    """What was read.

    Attributes
    ----------
    readings : Readings
        Of the print, averaged over the inputs.
    scans : tuple of ScanReading
        One for each scan among the inputs, in order.
    output, overlay : Path or None
        What was written.
    findings : tuple of Finding
    """

    readings: Readings
    scans: tuple[ScanReading, ...] = ()
    output: Path | None = None
    overlay: Path | None = None
    findings: tuple[Finding, ...] = ()


def read_scan(
    scan: Path | str,
    *,
    progress: Progress = no_progress,
    **options: Any,
) -> Readings:
    """Read the print of a target from a scan.

    Parameters
    ----------
    scan : path
        TIFF, PNG or JPEG.
    progress : Progress
        Told how far it is.
    **options
        The others of `ReadOptions`.

    Returns
    -------
    Readings
        With `findings` that should be looked at.

    Raises
    ------
    FileError
        If a file cannot be read or written.
    ReadingsError
        If the target is not found, is another one, or cannot be read.
    """
    return read(ReadOptions(inputs=(scan,), **options), progress=progress).readings


def read(options: ReadOptions, *, progress: Progress = no_progress) -> ReadResult:
    """Read a print; see `read_scan`.

    Parameters
    ----------
    options : ReadOptions
        What to read and what to write.
    progress : Progress
        Told how far it is.

    Returns
    -------
    ReadResult
    """
    _check(options)
    outputs = [each for each in (options.overlay, options.output) if each is not None]
    named = [each for each in (options.target, options.profile) if each is not None]
    inputs = [*options.inputs, *named]
    found = check_outputs(outputs, overwrite=options.overwrite, inputs=inputs)
    read_ones, scans, picture = _read_all(options, progress)
    readings = _named(average(read_ones), options)
    findings = (*found, *readings.findings)
    if options.overlay is not None and picture is not None:
        write_png(options.overlay, picture, overwrite=options.overwrite)
    if options.output is not None:
        write_readings(readings, options.output, overwrite=options.overwrite)
    return ReadResult(
        readings=readings,
        scans=tuple(scans),
        output=None if options.output is None else Path(options.output),
        overlay=None if options.overlay is None else Path(options.overlay),
        findings=findings,
    )


def _check(options: ReadOptions) -> None:
    if not options.inputs:
        raise InvalidValueError("nothing to read was named", where="inputs")
    scans = [each for each in options.inputs if is_scan(each)]
    if options.profile is not None and options.gamma is not None:
        raise InvalidValueError(
            "a profile and a gamma were both given", where="profile", fix="Give one."
        )
    if options.overlay is not None:
        check_suffix(options.overlay, ".png", kind="picture")
    if options.overlay is not None and len(scans) != 1:
        raise InvalidValueError(
            f"an overlay shows one scan, {len(scans) or 'none'} given",
            where="--overlay",
            fix="Read the scans one by one to see each.",
        )
    if options.corners_px:
        _check_corners(options.corners_px, scans)
    _check_kinds(options, scans)
    if options.tablet is not None:
        tablet_named(options.tablet)
    if options.hours_dry is not None and not options.hours_dry >= 0:
        raise InvalidValueError(
            f"{options.hours_dry:g} is no time since drying", where="hours_dry"
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
    if scans and options.channel == "visual":
        raise InvalidValueError(
            "a scan gives no visual density",
            where="--channel",
            fix="Use luminance, or red, green or blue for one channel of the scan.",
        )
    if options.which is not None and not scans:
        raise InvalidValueError(
            "is said of prints in a scan, but no scan is read", where="--which"
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


def _read_all(
    options: ReadOptions, progress: Progress
) -> tuple[list[Readings], list[ScanReading], Any]:
    """Read every input; return the overlay of the last scan as well if wanted."""
    readings: list[Readings] = []
    scans: list[ScanReading] = []
    picture = None
    for path in options.inputs:
        if not is_scan(path):
            readings.append(_read_list(path, options))
            continue
        scan, encoding, steps = _read_scan(path, options, progress)
        scans.append(scan)
        readings.append(scan.readings)
        if options.overlay is not None:
            picture = overlay(scan, encoding, numbers=options.numbers, steps=steps)
    return readings, scans, picture


def _tablet(options: ReadOptions) -> Tablet | None:
    return None if options.tablet is None else tablet_named(options.tablet)


def _read_list(path: Path | str, options: ReadOptions) -> Readings:
    return list_readings(
        path,
        ListOptions(channel=options.channel, zero=options.zero, order=options.order),
        target=options.target,
        tablet=_tablet(options),
    )


def _read_scan(
    path: Path | str, options: ReadOptions, progress: Progress
) -> tuple[ScanReading, Encoding, tuple[Box, ...]]:
    layouts = layouts_known(options.target, beside=path)
    with closing(open_picture(path)) as source:
        _refuse_own_file(source)
        encoding, about = scan_encoding(
            source, profile=options.profile, gamma=options.gamma
        )
        if options.channel in CHANNELS:
            encoding = one_channel(encoding, options.channel)
        scan = read_target(
            source,
            encoding,
            layouts,
            corners_px=options.corners_px,
            which=options.which,
            kind=options.channel or "luminance",
            progress=progress,
        )
        readings, steps = read_window(source, encoding, scan, _tablet(options))
    found = (*about, *readings.findings)
    named = readings.replaced(sheet=Path(path).stem, findings=found)
    return scan.with_readings(named), encoding, steps


def _refuse_own_file(source: ImageSource) -> None:
    for kind in ("target", "negative", "proof"):
        if source.description.startswith(f"negcurve {kind}"):
            raise ReadingsError(
                f"this is the {kind} file itself, not a scan of a print",
                where=source.name,
                fix="Print the target on film, expose and develop a sheet with it, and "
                "scan that.",
            )


def _named(readings: Readings, options: ReadOptions) -> Readings:
    """Put the print's name and state in, where they were given."""
    changes: dict[str, object] = {
        name: value
        for name in ("sheet", "hours_dry", "print_state")
        if (value := getattr(options, name)) is not None
    }
    if readings.on_tablet.any():
        changes["tablet_over_film"] = options.film_over and readings.tablet_over_film
    return readings.replaced(**changes)
