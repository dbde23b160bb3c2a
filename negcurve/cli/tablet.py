"""`negcurve tablet`: exposure scale and time for black from a printed step tablet."""

from pathlib import Path
from typing import Annotated

import typer

from negcurve.cli.options import (
    Json,
    Overwrite,
    Page,
    ProcessName,
    Quiet,
    ScanGamma,
    ScannerProfile,
    Verbose,
)
from negcurve.cli.output import print_result, progress_bar, set_voice


def tablet_command(
    strip: Annotated[
        Path | None,
        typer.Argument(
            help="CSV step,density (or step,lightness) of the print, or a scan of it.",
            show_default=False,
        ),
    ] = None,
    densities: Annotated[
        str | None,
        typer.Option(help="Print densities typed from step 1: '1.45 1.44 1.40 ...'."),
    ] = None,
    turned: Annotated[
        Path | None, typer.Option(help="Second strip, laid beside it head to tail.")
    ] = None,
    turned_densities: Annotated[
        str | None, typer.Option(help="The second strip, typed from its step 1.")
    ] = None,
    tablet: Annotated[
        str,
        typer.Option(help="31x0.10, 21x0.15, or CSV step,density as measured."),
    ] = "31x0.10",
    strip_box: Annotated[
        str | None,
        typer.Option(help="Where the strip lies in its scan, X,Y,W,H in pixels."),
    ] = None,
    turned_box: Annotated[
        str | None, typer.Option(help="The same for the second strip's scan.")
    ] = None,
    profile: ScannerProfile = None,
    gamma: ScanGamma = None,
    drop: Annotated[str | None, typer.Option(help="Steps to leave out: 7,8.")] = None,
    unexposed: Annotated[
        float | None, typer.Option(help="Density of the coated, unexposed border.")
    ] = None,
    merged: Annotated[
        int | None, typer.Option(help="By eye: densest step that is still black.")
    ] = None,
    last: Annotated[
        int | None, typer.Option(help="By eye: densest step that shows a tone.")
    ] = None,
    time: Annotated[
        str | None, typer.Option(help="Exposure of the strip: 480, 8m, 6m20s.")
    ] = None,
    film_density: Annotated[
        float | None, typer.Option(help="Density of the negative's clear film.")
    ] = None,
    film_over: Annotated[
        bool,
        typer.Option("--film-over/--no-film-over", help="Film lay over the tablet."),
    ] = False,
    black_share: Annotated[
        float, typer.Option(help="Share of the range that counts as black.")
    ] = 0.98,
    process: ProcessName = None,
    negative: Annotated[
        str | None,
        typer.Option(help="Printing densities of shadow and highlight: 0.18,1.78."),
    ] = None,
    camera: Annotated[
        bool, typer.Option("--camera", help="The negative is from a camera.")
    ] = False,
    match: Annotated[
        Path | None,
        typer.Option(help="CSV patch,density of film patches on the same sheet."),
    ] = None,
    series: Annotated[
        Path | None, typer.Option(help="CSV dose,exposure_scale of your own tests.")
    ] = None,
    wanted_scale: Annotated[
        float | None, typer.Option(help="Scale to find a dose for.")
    ] = None,
    page: Page = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Find exposure scale and time for black from a printed step tablet.

    Examples:

    \b
      negcurve tablet strip.csv --time 8m --film-over
      negcurve tablet scan.tif --strip-box 120,340,1800,160 --time 8m --film-over
      negcurve tablet --densities "1.45 1.40 1.05 0.55 0.2 0.08" --tablet 6x0.45
      negcurve tablet --merged 3 --last 17 --tablet 21x0.15 --time 8m --film-over
      negcurve tablet strip.csv --turned strip2.csv --negative 0.1,1.7
      negcurve tablet strip.csv --match patches.csv --page test.html

    Steps count from the clear end of the tablet, which prints darkest. Lay the
    negative's own clear film over the tablet: then its density needs no number.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.tablet import tablet as run
    from negcurve.tasks.tablet_card import tablet_card
    from negcurve.tasks.tablet_plain import tablet_plain
    from negcurve.tasks.tablet_values import TabletOptions
    from negcurve.tasks.typed import pair, typed_numbers, typed_steps

    options = TabletOptions(
        strip=strip,
        densities=typed_numbers(densities, where="--densities"),
        turned=turned,
        turned_densities=typed_numbers(turned_densities, where="--turned-densities"),
        tablet=tablet,
        strip_box=strip_box,
        turned_box=turned_box,
        profile=profile,
        gamma=gamma,
        drop=typed_steps(drop, where="--drop"),
        unexposed=unexposed,
        merged_step=merged,
        last_step=last,
        time=time,
        film_density=film_density,
        film_over=film_over,
        black_share=black_share,
        process=process,
        negative=pair(negative, where="--negative"),
        negative_kind="camera" if camera else "digital",
        patches=match,
        series=series,
        wanted_scale=wanted_scale,
        page=page,
        overwrite=overwrite,
    )
    with progress_bar() as progress:
        result = run(options, progress=progress)
    print_result(
        "tablet",
        text=tablet_card(result).text(full=verbose),
        result=tablet_plain(result),
        findings=result.findings,
        as_json=as_json,
    )
