"""Read a print: from scans, or from densities of an instrument, to a readings file."""

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from negcurve.darkroom.tablet import Tablet
from negcurve.errors import ReadingsError
from negcurve.files.instrument_list import ListOptions
from negcurve.files.layout_json import layouts_known
from negcurve.files.pictures import open_picture
from negcurve.files.png import write_png
from negcurve.files.readings_csv import write_readings
from negcurve.files.safe import check_outputs
from negcurve.plots.overlay import overlay
from negcurve.reading.averaging import average_scans
from negcurve.reading.channels import CHANNELS, channel_finding, one_channel
from negcurve.reading.glass import GlassField
from negcurve.reading.lay import Lay, lay_of
from negcurve.reading.placing import place_target
from negcurve.reading.scan import ScanReading, read_placed
from negcurve.reading.wedge import WedgeReading
from negcurve.reading.wedge_words import wedge_findings
from negcurve.readings import Readings
from negcurve.tasks.read_list import list_readings
from negcurve.tasks.read_options import ReadOptions, check_options, is_scan
from negcurve.tasks.read_tablet import read_window, tablet_named
from negcurve.tasks.read_wedge import scan_light, wedge_list
from negcurve.tasks.scan_encoding import scan_encoding
from negcurve.values import Finding, ImageSource, Progress, no_progress


@dataclass(frozen=True, eq=False, kw_only=True)
class ReadResult:
    """What was read.

    Attributes
    ----------
    readings : Readings
        Of the print, averaged over the inputs.
    scans : tuple of ScanReading
        One for each scan among the inputs, in order.
    wedges : tuple of WedgeReading or None
        For each scan, the step wedge that it was set right by.
    glass : GlassField or None
        What two scans or more tell of the scanner's unevenness.
    output, overlay : Path or None
        What was written.
    findings : tuple of Finding
    """

    readings: Readings
    scans: tuple[ScanReading, ...] = ()
    wedges: tuple[WedgeReading | None, ...] = ()
    glass: GlassField | None = None
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
    check_options(options)
    outputs = [each for each in (options.overlay, options.output) if each is not None]
    named = (options.target, options.profile, options.wedge)
    inputs = [*options.inputs, *(each for each in named if each is not None)]
    found = check_outputs(outputs, overwrite=options.overwrite, inputs=inputs)
    read_ones, scans = _read_all(options, progress)
    lays = _lays(options, [each.reading for each in scans])
    mean, glass = average_scans(read_ones, lays, correct=options.correct_glass)
    readings = _named(mean, options)
    findings = (*found, *readings.findings)
    if options.overlay is not None:
        write_png(options.overlay, scans[0].picture, overwrite=options.overwrite)
    if options.output is not None:
        write_readings(readings, options.output, overwrite=options.overwrite)
    return ReadResult(
        readings=readings,
        scans=tuple(each.reading for each in scans),
        wedges=tuple(each.wedge for each in scans),
        glass=glass,
        output=None if options.output is None else Path(options.output),
        overlay=None if options.overlay is None else Path(options.overlay),
        findings=findings,
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class _OneScan:
    """A scan that was read, its overlay if wanted, and the wedge in it."""

    reading: ScanReading
    wedge: WedgeReading | None
    picture: Any = None


def _read_all(
    options: ReadOptions, progress: Progress
) -> tuple[list[Readings], list[_OneScan]]:
    """Read every input."""
    readings: list[Readings] = []
    scans: list[_OneScan] = []
    for path in options.inputs:
        if not is_scan(path):
            readings.append(_read_list(path, options))
            continue
        scans.append(_read_scan(path, options, progress))
        readings.append(scans[-1].reading.readings)
    return readings, scans


def _lays(options: ReadOptions, scans: list[ScanReading]) -> list[Lay | None]:
    """Say of each input how it lay on the glass; lists lay on none."""
    left = iter(scans)
    return [lay_of(next(left)) if is_scan(each) else None for each in options.inputs]


def _tablet(options: ReadOptions) -> Tablet | None:
    return None if options.tablet is None else tablet_named(options.tablet)


def _read_list(path: Path | str, options: ReadOptions) -> Readings:
    return list_readings(
        path,
        ListOptions(channel=options.channel, zero=options.zero, order=options.order),
        target=options.target,
        tablet=_tablet(options),
    )


def _read_scan(path: Path | str, options: ReadOptions, progress: Progress) -> _OneScan:
    layouts = layouts_known(options.target, beside=path)
    known = None if options.wedge is None else wedge_list(options.wedge)
    with closing(open_picture(path)) as source:
        _refuse_own_file(source)
        if known is None:
            # Whatever cannot be read at all is refused before the print is looked for.
            scan_encoding(source, profile=options.profile, gamma=options.gamma)
        placed = place_target(
            source,
            layouts,
            corners_px=options.corners_px,
            which=options.which,
            progress=progress,
        )
        encoding, wedge, about = scan_light(
            source,
            placed,
            steps=known,
            box_px=options.wedge_box,
            profile=options.profile,
            gamma=options.gamma,
        )
        if options.channel in CHANNELS:
            about += channel_finding(encoding, where=source.name)
            encoding = one_channel(encoding, options.channel)
        scan = read_placed(
            source,
            encoding,
            placed,
            kind=options.channel or "luminance",
            zero="scanner" if wedge is None else "absolute",
            progress=progress,
        )
        tablet, over = _tablet(options), options.film_over
        readings, steps = read_window(source, encoding, scan, tablet, film_over=over)
    if wedge is not None:
        density = scan.readings.density
        about += wedge_findings(wedge, density, placed, where=source.name)
    named = readings.replaced(
        sheet=Path(path).stem, findings=(*about, *readings.findings)
    )
    scan = scan.with_readings(named)
    picture = None
    if options.overlay is not None:
        place = None if wedge is None else wedge.place
        numbers = options.numbers
        picture = overlay(scan, encoding, numbers=numbers, steps=steps, wedge=place)
    return _OneScan(reading=scan, wedge=wedge, picture=picture)


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
