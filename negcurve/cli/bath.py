"""`negcurve bath`: solutions, checks, spent baths, and a process's bench card."""

from pathlib import Path
from typing import Annotated

import typer

from negcurve.cli.options import Json, Overwrite, Page, Quiet, Verbose
from negcurve.cli.output import print_result, set_voice


def bath_command(
    process: Annotated[
        str | None,
        typer.Argument(
            help="Bench card of a process: palladium, cyanotype, kallitype and so on.",
            show_default=False,
        ),
    ] = None,
    steps: Annotated[
        Path | None,
        typer.Option(
            help="Your own sequence: CSV step,bath,minutes,temperature_c,end_point."
        ),
    ] = None,
    at: Annotated[
        list[str] | None,
        typer.Option(help="Temperature of a step, again for each: 4=45C."),
    ] = None,
    weigh: Annotated[
        str | None, typer.Option(help="Substance to weigh for a stock solution.")
    ] = None,
    counted_as: Annotated[
        str | None, typer.Option(help="Form that the strength counts.")
    ] = None,
    purity: Annotated[float, typer.Option(help="Of the bottle, in percent.")] = 100.0,
    dilute: Annotated[
        float | None, typer.Option(help="Strength of a stock to thin, in % w/v.")
    ] = None,
    strength: Annotated[
        float | None, typer.Option(help="Strength wanted, or of the bath, in % w/v.")
    ] = None,
    volume: Annotated[str | None, typer.Option(help="500ml, 1.5l.")] = None,
    solution: Annotated[
        list[str] | None,
        typer.Option(help="NAME:PERCENT:ML, twice or more, to check amounts."),
    ] = None,
    clearing: Annotated[
        str | None, typer.Option(help="EDTA of a clearing bath, with its form.")
    ] = None,
    sheet_ml: Annotated[
        float | None, typer.Option(help="Iron solution that a sheet brings, in ml.")
    ] = None,
    sheet_iron: Annotated[
        str, typer.Option(help="Which iron solution: NAME:PERCENT.")
    ] = "ferric oxalate anhydrous:27",
    sheets_done: Annotated[
        int | None, typer.Option(help="Sheets that the clearing bath has seen.")
    ] = None,
    acid: Annotated[
        str | None, typer.Option(help="Oxalic acid of a bath for buffered paper.")
    ] = None,
    size: Annotated[str | None, typer.Option(help="Sheet: 8x10in, A4.")] = None,
    paper_weight: Annotated[float | None, typer.Option(help="In g/m2.")] = None,
    chalk: Annotated[
        float | None, typer.Option(help="Of the paper's mass, in percent; 2 to 5.")
    ] = None,
    palladium_chloride: Annotated[
        float | None, typer.Option(help="Grams to dissolve with a chloride.")
    ] = None,
    salt: Annotated[str, typer.Option(help="Chloride for it.")] = "sodium chloride",
    oxalate: Annotated[
        float | None,
        typer.Option(help="Grams of potassium oxalate to make from its acid."),
    ] = None,
    page: Page = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Print a process's bench card, or work out solutions and baths.

    Examples:

    \b
      negcurve bath palladium --at 4=45C --page card.html
      negcurve bath --weigh "silver nitrate" --strength 10 --volume 100ml
      negcurve bath --weigh AgNO3 --strength 10 --volume 100ml --purity 98
      negcurve bath --dilute 24 --strength 12 --volume 500ml
      negcurve bath --solution "silver nitrate:12:1" --solution NaCl:2:1
      negcurve bath --palladium-chloride 9 --salt "sodium chloride"

    A strength counts one form of a substance; where the bottle holds another,
    name both: --weigh "ferric oxalate hexahydrate" --counted-as "ferric oxalate
    anhydrous".
    Clearing baths: --clearing, --strength, --volume, --sheet-ml. Acid baths for
    buffered paper: --acid, --strength, --volume, --size, --paper-weight, --chalk.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.bath import bath as run
    from negcurve.tasks.bath_card import bath_card, bath_plain
    from negcurve.tasks.bath_values import BathOptions
    from negcurve.tasks.typed import named_texts

    options = BathOptions(
        process=process,
        steps=steps,
        temperatures=named_texts(at, where="--at"),
        weigh=weigh,
        counted_as=counted_as,
        purity_percent=purity,
        dilute=dilute,
        strength=strength,
        volume=volume,
        solutions=tuple(solution or ()),
        clearing=clearing,
        sheet_iron_ml=sheet_ml,
        sheet_iron=sheet_iron,
        sheets_done=sheets_done,
        acid=acid,
        size=size,
        paper_g_per_m2=paper_weight,
        chalk_percent=chalk,
        palladium_chloride_g=palladium_chloride,
        salt=salt,
        oxalate_g=oxalate,
        page=page,
        overwrite=overwrite,
    )
    result = run(options)
    print_result(
        "bath",
        text=bath_card(result).text(full=verbose),
        result=bath_plain(result),
        findings=result.findings,
        as_json=as_json,
    )
