"""`negcurve expose`: test strips and corrections of a time."""

from pathlib import Path
from typing import Annotated

import typer

from negcurve.cli.options import Json, Overwrite, Page, ProcessName, Quiet, Verbose
from negcurve.cli.output import print_result, set_voice


def expose_command(
    time: Annotated[
        str | None,
        typer.Argument(
            help="Time to start from: 480, 8m, 6m20s; a test strip's shortest.",
            show_default=False,
        ),
    ] = None,
    patches: Annotated[
        int | None, typer.Option(help="Plan a test strip of so many patches.")
    ] = None,
    stop_step: Annotated[
        str, typer.Option(help="Stops from patch to patch: 1/2, 1/3.")
    ] = "1/2",
    lamp: Annotated[
        float | None, typer.Option(help="Lamp output against its reference: 0.85.")
    ] = None,
    stops: Annotated[
        str | None, typer.Option(help="Change wanted at the paper: +1/2, -1/3.")
    ] = None,
    to_time: Annotated[
        str | None, typer.Option(help="Another time: how many stops lie between.")
    ] = None,
    density: Annotated[
        float | None,
        typer.Option(help="Density put into the light's way; below 0, taken out."),
    ] = None,
    from_distance: Annotated[
        str | None, typer.Option(help="Lamp to paper before: 50cm.")
    ] = None,
    to_distance: Annotated[
        str | None, typer.Option(help="Lamp to paper after: 70cm.")
    ] = None,
    source: Annotated[
        str | None, typer.Option(help="Diameter of a round source: 10cm.")
    ] = None,
    bank_width: Annotated[
        str | None, typer.Option(help="Width of a bank of tubes: 60cm.")
    ] = None,
    units: Annotated[
        float | None, typer.Option(help="Integrator units instead of a time.")
    ] = None,
    units_per_s: Annotated[
        float | None, typer.Option(help="Units that it counts in a second.")
    ] = None,
    curve: Annotated[
        Path | None, typer.Option(help="CSV step,density of the process's tablet.")
    ] = None,
    tablet: Annotated[
        str, typer.Option(help="Tablet of that curve: 31x0.10, 21x0.15 or CSV.")
    ] = "31x0.10",
    has: Annotated[
        float | None, typer.Option(help="Print density that a tone has.")
    ] = None,
    wants: Annotated[
        float | None, typer.Option(help="Print density that it should have.")
    ] = None,
    tube_height: Annotated[
        str | None, typer.Option(help="Tubes above the paper: 10cm.")
    ] = None,
    tube_spacing: Annotated[
        str | None, typer.Option(help="From tube to tube: 7cm.")
    ] = None,
    overhang: Annotated[
        str | None, typer.Option(help="Bank beyond the sheet's edge: 10cm.")
    ] = None,
    uva: Annotated[
        float | None, typer.Option(help="UVA at the eye, mW/cm2: time to the limit.")
    ] = None,
    process: ProcessName = None,
    page: Page = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Plan a test strip, or correct an exposure.

    Examples:

    \b
      negcurve expose 60s --patches 7 --page strip.html
      negcurve expose 8m --lamp 0.85
      negcurve expose 8m --to-time 10m
      negcurve expose 8m --stops +1/3 --density 0.12
      negcurve expose 4m --from-distance 50cm --to-distance 70cm --source 8cm
      negcurve expose 8m --curve strip.csv --has 0.62 --wants 0.70
      negcurve expose --units 300 --units-per-s 1 --lamp 0.9
      negcurve expose --tube-height 10cm --tube-spacing 7cm --overhang 10cm
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.expose import expose as run
    from negcurve.tasks.expose_card import expose_card, expose_plain
    from negcurve.tasks.expose_values import ExposeOptions

    options = ExposeOptions(
        time=time,
        patches=patches,
        stop_step=stop_step,
        lamp=lamp,
        stops=stops,
        other_time=to_time,
        density=density,
        from_distance=from_distance,
        to_distance=to_distance,
        source=source,
        bank_width=bank_width,
        units=units,
        units_per_s=units_per_s,
        curve=curve,
        tablet=tablet,
        has=has,
        wants=wants,
        tube_height=tube_height,
        tube_spacing=tube_spacing,
        overhang=overhang,
        uva=uva,
        process=process,
        page=page,
        overwrite=overwrite,
    )
    result = run(options)
    print_result(
        "expose",
        text=expose_card(result).text(full=verbose),
        result=expose_plain(result),
        findings=result.findings,
        as_json=as_json,
    )
