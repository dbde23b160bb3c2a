"""From a sheet's size to drops per bottle, amounts and cost."""

from collections.abc import Sequence
from dataclasses import replace

from negcurve.darkroom.coating import (
    DROPS_PER_ML,
    TOOLS,
    WASTE_PERCENT,
    Pour,
    Tool,
    agent_per_metal,
    coated_area_cm2,
    coating_volume_ml,
    pours,
    with_agent,
)
from negcurve.darkroom.costing import Cost, cost
from negcurve.darkroom.mixtures import check_mixture
from negcurve.darkroom.processes import Process, process
from negcurve.darkroom.ratios import Ratio, mixture_ratios
from negcurve.darkroom.recipes import AGENTS, Bottle, bottles
from negcurve.darkroom.solutions import Portion, above_zero
from negcurve.darkroom.substances import SUBSTANCES, hydrates, substance
from negcurve.errors import InvalidValueError
from negcurve.files.safe import write_text
from negcurve.target.sizes import UNITS_PER_MM, length_units, sheet_size
from negcurve.tasks.mix_card import mix_card
from negcurve.tasks.mix_findings import mix_findings
from negcurve.tasks.mix_values import MixOptions, MixResult
from negcurve.tasks.page_file import check_page
from negcurve.values import Progress, no_progress


def mix(options: MixOptions, *, progress: Progress = no_progress) -> MixResult:
    """Work out what to take from each bottle for one sheet.

    Parameters
    ----------
    options : MixOptions
    progress : Progress

    Returns
    -------
    MixResult

    Raises
    ------
    InvalidValueError
        If an option is out of range, or substances would meet that must not.
    FileError
        If the page cannot be written.
    """
    check_page(options.page, overwrite=options.overwrite)
    work = process(options.process)
    tool = _tool(options)
    width, height = (side / UNITS_PER_MM for side in sheet_size(options.size))
    border = length_units(options.border, where="--border") / UNITS_PER_MM
    area = coated_area_cm2(width, height, border_mm=border)
    waste = WASTE_PERCENT if options.waste_percent is None else options.waste_percent
    volume = coating_volume_ml(
        area,
        deposit_ml_per_in2=tool.deposit_ml_per_in2,
        holdup_ml=tool.holdup_ml,
        waste_percent=waste,
    )
    drops = _drops_per_ml(options)
    shelf = _shelf(options, work)
    poured = pours(shelf, volume_ml=volume, drops_per_ml=drops)
    agents = _agents(options)
    _check_meeting([*shelf, *agents])
    mixes = [_with(options, poured, agent, drops) for agent in agents] or [poured]
    shares = [agent_per_metal(each) for each in mixes]
    known = [share for share in shares if share is not None]
    progress("working out", 1.0)
    result = MixResult(
        options=options,
        process=work,
        tool=tool,
        area_cm2=area,
        volume_ml=volume,
        drops_per_ml=drops,
        pours=mixes[0],
        agent_per_metal=(min(known), max(known)) if known else None,
        iron_ratio=_iron_ratio(mixes[0]),
        cost=_cost(options, mixes[0]),
        unverified=_unverified(options, mixes[0]),
        findings=tuple(mix_findings(options, work, mixes[0], agents)),
    )
    if options.page is not None:
        page = mix_card(result).page()
        write_text(options.page, page, overwrite=options.overwrite)
    return result


def _drops_per_ml(options: MixOptions) -> float:
    if options.drops_per_ml is None:
        return DROPS_PER_ML
    return above_zero(options.drops_per_ml, "--drops-per-ml")


def _tool(options: MixOptions) -> Tool:
    if options.tool not in TOOLS:
        raise InvalidValueError(
            f"{options.tool!r} is not a tool that we know",
            where="tool",
            fix=f"Write {', '.join(TOOLS)}, or give --deposit and --holdup.",
        )
    tool = TOOLS[options.tool]
    if options.deposit_ml_per_in2 is not None:
        tool = replace(tool, deposit_ml_per_in2=options.deposit_ml_per_in2)
    if options.holdup_ml is not None:
        tool = replace(tool, holdup_ml=options.holdup_ml)
    return tool


def _shelf(options: MixOptions, work: Process) -> tuple[Bottle, ...]:
    shelf = bottles(work.key, platinum_share=options.platinum_share)
    names = [bottle.name for bottle in shelf]
    for name in (*options.strengths, *options.forms, *options.parts):
        if name not in names:
            raise InvalidValueError(
                f"{name!r} is not a bottle of {work.name}",
                where="bottle",
                fix=f"Its bottles are {', '.join(names)}.",
            )
    return tuple(_own(bottle, options) for bottle in shelf)


def _own(bottle: Bottle, options: MixOptions) -> Bottle:
    form, percent = options.forms.get(bottle.name), options.strengths.get(bottle.name)
    parts = options.parts.get(bottle.name)
    if parts is not None:
        bottle = replace(bottle, parts=above_zero(parts, f"{bottle.name} parts"))
    if form is not None:
        bottle = bottle.with_form(_form_of(bottle, form))
    if percent is None:
        return bottle
    if not bottle.contents or not 0 < percent <= 100:
        raise InvalidValueError(
            f"strength {percent:g} % cannot be used",
            where=bottle.name,
            fix="Strengths lie above 0 and up to 100 % w/v.",
        )
    return bottle.with_percent(percent)


def _form_of(bottle: Bottle, form: str) -> str:
    """Full name of a substance from `hexahydrate` or from its own full name."""
    if not bottle.contents:
        return substance(form).name
    family = SUBSTANCES[bottle.contents[0].substance].family
    known = [each.name for each in hydrates(family)]
    full = form if form in known else f"{family} {form}"
    if full not in known:
        raise InvalidValueError(
            f"{form!r} is not a form of {family}",
            where=bottle.name,
            fix=f"Its forms are {', '.join(known)}.",
        )
    return full


def _agents(options: MixOptions) -> list[Bottle]:
    """Return the agent in each form that its label may mean; empty for none."""
    if not options.agent:
        if options.agent_drops:
            raise InvalidValueError(
                "drops of which agent?", where="--agent-drops", fix="Add --agent."
            )
        return []
    if options.agent not in AGENTS:
        raise InvalidValueError(
            f"{options.agent!r} is not an agent that we know",
            where="--agent",
            fix=f"Write {', '.join(AGENTS)}.",
        )
    if options.agent_drops < 1:
        raise InvalidValueError(
            f"{options.agent_drops} drops of the agent are none",
            where="--agent-drops",
            fix="Give how many, such as --agent-drops 2, or leave --agent out.",
        )
    bottle = AGENTS[options.agent]
    if options.agent_percent is not None:
        own = MixOptions(size="", strengths={bottle.name: options.agent_percent})
        bottle = _own(bottle, own)
    if options.agent_form:
        return [bottle.with_form(_form_of(bottle, options.agent_form))]
    family = SUBSTANCES[bottle.contents[0].substance].family
    return [bottle.with_form(each.name) for each in hydrates(family)]


def _check_meeting(shelf: Sequence[Bottle]) -> None:
    """Refuse substances that must not meet; a bottle's name counts as well."""
    names = [each.substance for bottle in shelf for each in bottle.contents]
    check_mixture([*names, *(bottle.name for bottle in shelf if not bottle.contents)])


def _with(
    options: MixOptions, poured: tuple[Pour, ...], agent: Bottle, drops_per_ml: float
) -> tuple[Pour, ...]:
    return with_agent(
        poured,
        agent,
        drops=options.agent_drops,
        drops_per_ml=drops_per_ml,
        place=options.agent_place,
    )


def _iron_ratio(mixed: Sequence[Pour]) -> Ratio | None:
    portions = [
        Portion(
            form=SUBSTANCES[each.substance],
            percent=each.percent,
            volume_ml=pour.volume_ml,
        )
        for pour in mixed
        if pour.bottle.role != "agent"
        for each in pour.bottle.contents
    ]
    for ratio in mixture_ratios(portions):
        if ratio.what.startswith("iron to"):
            return ratio
    return None


def _cost(options: MixOptions, mixed: Sequence[Pour]) -> Cost | None:
    if not options.prices:
        _check_unpriced(options)
        return None
    names = [pour.bottle.name for pour in mixed]
    unknown = [name for name in options.prices if name not in names]
    if unknown:
        raise InvalidValueError(
            f"{unknown[0]!r} is not a bottle of this mix",
            where="--price",
            fix=f"Its bottles are {', '.join(names)}.",
        )
    return cost(
        mixed,
        price_per_ml=options.prices,
        paper=options.paper_price,
        baths=options.bath_price,
        failed_share=options.failed_share,
        sheets=options.sheets,
    )


def _check_unpriced(options: MixOptions) -> None:
    """Refuse what only a cost would use, where no price is given."""
    other = {
        "--paper-price": options.paper_price,
        "--bath-price": options.bath_price,
        "--failed": options.failed_share,
    }
    for option, value in other.items():
        if value != 0:
            raise InvalidValueError(
                "is part of a cost, but no bottle has a price",
                where=option,
                fix="Give --price NAME=PRICE for each bottle, per ml.",
            )


def _unverified(options: MixOptions, mixed: Sequence[Pour]) -> tuple[str, ...]:
    own = {
        "deposit": options.deposit_ml_per_in2,
        "hold-up": options.holdup_ml,
        "waste": options.waste_percent,
        "drops per ml": options.drops_per_ml,
    }
    kept = [name for name, value in own.items() if value is None]
    kept += [pour.bottle.name for pour in mixed if not pour.bottle.verified]
    return tuple(kept)
