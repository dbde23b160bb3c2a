"""`negcurve mix`: what to take from each bottle for a sheet."""

from typing import Annotated

import typer

from negcurve.cli.options import Json, Overwrite, Page, Quiet, Verbose
from negcurve.cli.output import print_result, set_voice


def mix_command(
    size: Annotated[
        str, typer.Argument(help="Size of the picture: 8x10in, 20x25cm, A4.")
    ],
    process: Annotated[
        str, typer.Option(help="palladium, cyanotype, kallitype and so on.")
    ] = "palladium",
    border: Annotated[
        str, typer.Option(help="Coated beyond the picture on each side: 0.5in, 12mm.")
    ] = "0.5in",
    tool: Annotated[str, typer.Option(help="rod, brush or absorbent.")] = "brush",
    deposit: Annotated[
        float | None, typer.Option(help="Your own deposit in ml per square inch.")
    ] = None,
    holdup: Annotated[
        float | None, typer.Option(help="What your tool and cup keep, in ml.")
    ] = None,
    waste: Annotated[
        float | None, typer.Option(help="Waste in percent; 5 by default.")
    ] = None,
    drops_per_ml: Annotated[
        float | None, typer.Option(help="Of your dropper; 20 by default.")
    ] = None,
    platinum: Annotated[
        float | None,
        typer.Option(help="Share of platinum in the metal solution, 0 to 1."),
    ] = None,
    strength: Annotated[
        list[str] | None,
        typer.Option(help="Your own strength, again for each: 'palladium=15'."),
    ] = None,
    form: Annotated[
        list[str] | None,
        typer.Option(help="What a strength counts: 'ferric oxalate=hexahydrate'."),
    ] = None,
    parts: Annotated[
        list[str] | None,
        typer.Option(help="Your own parts, again for each bottle: 'ferric oxalate=3'."),
    ] = None,
    agent: Annotated[
        str,
        typer.Option(
            help="Contrast agent: hexachloroplatinate, chlorate or dichromate."
        ),
    ] = "",
    agent_drops: Annotated[int, typer.Option(help="Drops of it.")] = 0,
    agent_percent: Annotated[
        float | None, typer.Option(help="Its strength in % w/v.")
    ] = None,
    agent_form: Annotated[
        str, typer.Option(help="What that counts: anhydrous or hexahydrate.")
    ] = "",
    agent_replaces: Annotated[
        bool, typer.Option("--agent-replaces", help="In place of metal, not on top.")
    ] = False,
    price: Annotated[
        list[str] | None,
        typer.Option(help="Price per ml, again for each bottle: 'palladium=4.2'."),
    ] = None,
    paper_price: Annotated[float, typer.Option(help="Of one sheet.")] = 0.0,
    bath_price: Annotated[float, typer.Option(help="Baths for one sheet.")] = 0.0,
    failed: Annotated[float, typer.Option(help="Share of sheets that fail.")] = 0.0,
    sheets: Annotated[int, typer.Option(help="Sheets in the session.", min=1)] = 1,
    page: Page = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Work out drops per bottle, amounts and cost for one sheet.

    Examples:

    \b
      negcurve mix 8x10in
      negcurve mix 8x10in --process platinum-palladium --platinum 0.3
      negcurve mix 8x10in --agent hexachloroplatinate --agent-drops 2
      negcurve mix 20x25cm --process cyanotype --tool rod --drops-per-ml 22
      negcurve mix 8x10in --price "ferric oxalate=0.5" --price palladium=4
      negcurve mix 8x10in --form "ferric oxalate=hexahydrate" --page mix.html
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.mix import mix as run
    from negcurve.tasks.mix_card import mix_card, mix_plain
    from negcurve.tasks.mix_values import MixOptions
    from negcurve.tasks.typed import named_numbers, named_texts

    options = MixOptions(
        size=size,
        process=process,
        border=border,
        tool=tool,
        deposit_ml_per_in2=deposit,
        holdup_ml=holdup,
        waste_percent=waste,
        drops_per_ml=drops_per_ml,
        platinum_share=platinum,
        strengths=named_numbers(strength, where="--strength"),
        forms=named_texts(form, where="--form"),
        parts=named_numbers(parts, where="--parts"),
        agent=agent,
        agent_drops=agent_drops,
        agent_percent=agent_percent,
        agent_form=agent_form,
        agent_place="replace" if agent_replaces else "extra",
        prices=named_numbers(price, where="--price"),
        paper_price=paper_price,
        bath_price=bath_price,
        failed_share=failed,
        sheets=sheets,
        page=page,
        overwrite=overwrite,
    )
    result = run(options)
    print_result(
        "mix",
        text=mix_card(result).text(full=verbose),
        result=mix_plain(result),
        findings=result.findings,
        as_json=as_json,
    )
