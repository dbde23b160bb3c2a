"""Stock solutions, checks of amounts, spent baths, and the bench card of a process."""

from typing import Any

from negcurve.darkroom.capacity import (
    acid_bath_sheets,
    clearing_capacity,
    paper_chalk_mmol,
)
from negcurve.darkroom.coating import coated_area_cm2
from negcurve.darkroom.mixtures import check_mixture
from negcurve.darkroom.processes import Process, process
from negcurve.darkroom.quantities import celsius, millilitres
from negcurve.darkroom.ratios import (
    mixture_ratios,
    oxalate_from_acid,
    salt_for_palladium,
)
from negcurve.darkroom.recipes import RECIPES
from negcurve.darkroom.sequences import sequence
from negcurve.darkroom.solutions import (
    STRONG_PERCENT,
    Portion,
    dilute,
    portion,
    total_mmol,
    weigh,
)
from negcurve.darkroom.steps import Step
from negcurve.darkroom.substances import Substance, substance
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.number_columns import read_columns
from negcurve.files.safe import write_text
from negcurve.files.text_table import number_in
from negcurve.target.sizes import UNITS_PER_MM, sheet_size
from negcurve.tasks.bath_card import bath_card
from negcurve.tasks.bath_values import AcidBath, BathOptions, BathResult
from negcurve.tasks.page_file import check_page
from negcurve.values import Finding, Progress, no_progress

EXAMPLES = {
    "--strength": "10",
    "--volume": "500ml",
    "--sheet-ml": "0.5",
    "--size": "8x10in",
    "--paper-weight": "300",
    "--chalk": "3",
}
"""How an option that is missing is written."""


def bath(options: BathOptions, *, progress: Progress = no_progress) -> BathResult:
    """Work out solutions and baths.

    Parameters
    ----------
    options : BathOptions
    progress : Progress

    Returns
    -------
    BathResult

    Raises
    ------
    InvalidValueError
        If an option is out of range, nothing is asked for, or substances would meet
        that must not.
    ReadingsError
        If the user's own sequence cannot be used.
    FileError
        If a file cannot be read or written.
    """
    check_page(options.page, overwrite=options.overwrite, inputs=[options.steps])
    found: dict[str, Any] = {"options": options, "findings": ()}
    for job in (_card, _weigh, _dilute, _ratios, _clearing, _acid, _salts):
        job(options, found)
    if len(found) == 2:
        raise InvalidValueError(
            "nothing to work out",
            where="bath",
            fix="Name a process for its bench card, or --weigh, --dilute, --solution, "
            "--clearing or --acid.",
        )
    progress("working out", 1.0)
    result = BathResult(**found)
    if options.page is not None:
        page = bath_card(result).page()
        write_text(options.page, page, overwrite=options.overwrite)
    return result


def _card(options: BathOptions, found: dict[str, Any]) -> None:
    if options.process is None and options.steps is None:
        if options.temperatures:
            raise InvalidValueError(
                "is the temperature of a step, but no sequence is named",
                where="--at",
                fix="Name a process as well: negcurve bath palladium --at 4=45C.",
            )
        return
    work = None if options.process is None else process(options.process)
    steps = _own_steps(options) if options.steps else sequence(work.key if work else "")
    for number, text in options.temperatures.items():
        place = _step_number(number, len(steps))
        warm = steps[place].at(celsius(text, where=f"--at {number}"))
        steps = (*steps[:place], warm, *steps[place + 1 :])
    _check_baths(work, steps)
    found.update(process=work, steps=steps)


def _step_number(text: str, count: int) -> int:
    value = number_in(text)
    if value is None or value != int(value) or not 1 <= value <= count:
        raise InvalidValueError(
            f"there is no step {text}", where="--at", fix=f"Steps are 1 to {count}."
        )
    return int(value) - 1


def _own_steps(options: BathOptions) -> tuple[Step, ...]:
    names = ("step", "bath", "minutes", "temperature_c", "end_point")
    table = read_columns(options.steps or "", numbers=(), texts=names)
    steps = []
    for row in zip(*(table.texts[name] for name in names), strict=True):
        name, contents, minutes, temperature, end_point = row
        value = number_in(temperature)
        if temperature and value is None:
            raise ReadingsError(
                f"temperature {temperature!r} is no number",
                where=f"{table.source}, step {name}",
                fix="Write degrees Celsius without a unit, or leave it empty.",
            )
        steps.append(
            Step(
                name=name,
                bath=contents,
                minutes=minutes,
                low_c=value,
                high_c=value,
                end_point=end_point,
                source="your own",
                verified=True,
            )
        )
    return tuple(steps)


def _check_baths(work: Process | None, steps: tuple[Step, ...]) -> None:
    """Refuse a strong acid bath after a sensitizer with ferricyanide."""
    recipe = RECIPES.get(work.key, ()) if work else ()
    names = [each.substance for bottle in recipe for each in bottle.contents]
    cyanide = [name for name in names if "ferricyanide" in name]
    for step in steps:
        if cyanide:
            check_mixture([*cyanide, step.bath])


def _weigh(options: BathOptions, found: dict[str, Any]) -> None:
    if options.weigh is None:
        return
    form = substance(options.weigh)
    meant = None if options.counted_as is None else substance(options.counted_as)
    percent = _needed(options.strength, "--strength")
    found["substance"] = form
    found["weighing"] = weigh(
        form,
        percent=percent,
        volume_ml=_volume(options),
        counted_as=meant,
        purity_percent=options.purity_percent,
    )
    if percent > STRONG_PERCENT:
        found["findings"] += (
            Finding(
                severity="note",
                where=form.name,
                what="percent w/v means grams in the finished volume, not added to it",
                fix="Dissolve in less water, then fill up to the mark.",
            ),
        )


def _dilute(options: BathOptions, found: dict[str, Any]) -> None:
    if options.dilute is None:
        return
    found["dilution"] = dilute(
        from_percent=options.dilute,
        to_percent=_needed(options.strength, "--strength"),
        volume_ml=_volume(options),
    )


def _ratios(options: BathOptions, found: dict[str, Any]) -> None:
    if not options.solutions:
        return
    portions = tuple(_portion(text) for text in options.solutions)
    if len(portions) < 2:
        raise InvalidValueError(
            "one solution has no ratio", where="--solution", fix="Give two or more."
        )
    ratios = mixture_ratios(portions)
    found.update(portions=portions, ratios=ratios)
    if not ratios:
        found["findings"] += (
            Finding(
                severity="note",
                where="solutions",
                what="no ratio that we know applies to these substances",
            ),
        )


def _portion(text: str) -> Portion:
    parts = [part.strip() for part in text.split(":")]
    numbers = [number_in(part.removesuffix("ml").rstrip("% ")) for part in parts[1:]]
    if len(parts) != 3 or None in numbers:
        raise InvalidValueError(
            f"{text!r} is not a solution",
            where="--solution",
            fix="Write NAME:PERCENT:ML, such as 'silver nitrate:10:1.5'.",
        )
    percent, volume = (float(number or 0.0) for number in numbers)
    return portion(parts[0], percent=percent, volume_ml=volume)


def _clearing(options: BathOptions, found: dict[str, Any]) -> None:
    if options.clearing is None:
        return
    load = _portion(
        f"{options.sheet_iron}:{_needed(options.sheet_iron_ml, '--sheet-ml')}"
    )
    form = substance(options.clearing)
    found["substance"] = form
    found["capacity"] = clearing_capacity(
        form,
        percent=_needed(options.strength, "--strength"),
        volume_ml=_volume(options),
        iron_mmol_per_sheet=total_mmol([load], "Fe")[1],
    )


def _acid(options: BathOptions, found: dict[str, Any]) -> None:
    if options.acid is None:
        return
    width, height = (
        side / UNITS_PER_MM for side in sheet_size(_needed(options.size, "--size"))
    )
    chalk = paper_chalk_mmol(
        coated_area_cm2(width, height, border_mm=0.0),
        paper_g_per_m2=_needed(options.paper_g_per_m2, "--paper-weight"),
        chalk_percent=_needed(options.chalk_percent, "--chalk"),
    )
    form: Substance = substance(options.acid)
    found["substance"] = form
    found["acid_bath"] = AcidBath(
        chalk_mmol=chalk,
        acid_g=chalk * form.molar_mass_g_per_mol / 1000,
        sheets=acid_bath_sheets(
            form,
            percent=_needed(options.strength, "--strength"),
            volume_ml=_volume(options),
            chalk_mmol_per_sheet=chalk,
        ),
    )


def _salts(options: BathOptions, found: dict[str, Any]) -> None:
    if options.palladium_chloride_g is not None:
        found["palladium_g"] = salt_for_palladium(
            substance("palladium chloride anhydrous"),
            substance(options.salt),
            mass_g=options.palladium_chloride_g,
        )
    if options.oxalate_g is not None:
        found["oxalate_g"] = oxalate_from_acid(options.oxalate_g)


def _needed(value: Any, option: str) -> Any:
    if value is None:
        raise InvalidValueError(
            "is missing; nothing can be worked out without it",
            where=option,
            fix=f"Add it: {option} {EXAMPLES[option]}.",
        )
    return value


def _volume(options: BathOptions) -> float:
    return millilitres(str(_needed(options.volume, "--volume")), where="--volume")
