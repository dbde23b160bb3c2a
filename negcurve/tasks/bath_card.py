"""Solutions and baths as a card for the bench, and as plain values for machines."""

from typing import Any

from negcurve.darkroom.capacity import Capacity
from negcurve.darkroom.cautions import CAUTIONS, DEFER, Caution, cautions_for
from negcurve.darkroom.recipes import RECIPES
from negcurve.darkroom.steps import Step
from negcurve.tasks.bath_values import BathResult
from negcurve.tasks.bench_card import UNVERIFIED, Card, Section

UNNAMED = Section(
    heading="Cautions", lines=("What is in the bottle was not named. " + DEFER,)
)
"""Stands where no substance is known to warn of."""

WARM_C = 35.0
"""From here on the card warns of scalding and vapour. Our own choice. [deg C]"""


def bath_card(result: BathResult) -> Card:
    """Put solutions, baths or a whole sequence on a card."""
    cautions = _cautions(result)
    sections = [
        _steps(result),
        _weighing(result),
        _dilution(result),
        _ratios(result),
        _capacity(result),
        _acid(result),
        _palladium(result),
        _oxalate(result),
        None if cautions else UNNAMED,
    ]
    return Card(
        title=_title(result),
        sections=tuple(section for section in sections if section is not None),
        cautions=cautions,
    )


def _title(result: BathResult) -> str:
    if result.process is not None:
        return f"Bench card: {result.process.name}"
    return "Bench card" if result.steps else "Solutions and baths"


def _cautions(result: BathResult) -> tuple[Caution, ...]:
    words = [step.bath for step in result.steps]
    if result.process is not None:
        recipe = RECIPES.get(result.process.key, ())
        words += [each.substance for bottle in recipe for each in bottle.contents]
        words.append(result.process.name)
    words += [each.form.name for each in result.portions]
    if result.substance is not None:
        words.append(result.substance.name)
    if result.palladium_g is not None:
        words.append("palladium chloride")
    if result.oxalate_g is not None:
        words.append("oxalic acid, potassium oxalate")
    light = any(step.name == "expose" for step in result.steps)
    found = cautions_for(words, light=light)
    warm = any((step.chosen_c or step.high_c or 0) >= WARM_C for step in result.steps)
    return (*found, CAUTIONS["warm bath"]) if warm else found


def _steps(result: BathResult) -> Section | None:
    if not result.steps:
        return None
    return Section(
        heading="Sequence",
        columns=("", "step", "minutes", "temperature", "bath and what to look for"),
        rows=tuple(_step(n, step) for n, step in enumerate(result.steps, start=1)),
    )


def _step(number: int, step: Step) -> tuple[str, ...]:
    text = f"{step.bath}; {step.end_point}" if step.end_point else step.bath
    mark = "" if step.verified else f" {UNVERIFIED}"
    return (
        str(number),
        step.name,
        step.minutes,
        step.temperature,
        f"{text} ({step.source}){mark}",
    )


def _weighing(result: BathResult) -> Section | None:
    found, form = result.weighing, result.substance
    if found is None or form is None:
        return None
    options = result.options
    meant = options.counted_as or form.name
    pure = (
        "" if options.purity_percent == 100 else f", {options.purity_percent:g} % pure"
    )
    rows = [
        (f"{form.name}{pure}", f"{found.mass_g:.2f} g"),
        ("water to make", f"{found.volume_ml:g} ml"),
        (f"strength as {meant}", f"{options.strength:g} % w/v"),
    ]
    if abs(found.percent_as_weighed - (options.strength or 0.0)) > 1e-9:
        rows.append((f"strength as {form.name}", f"{found.percent_as_weighed:.2f} %"))
    if found.mol_per_l is not None:
        rows.append(("concentration", f"{found.mol_per_l:.3f} mol/l"))
    return Section(heading="Stock solution", rows=tuple(rows))


def _dilution(result: BathResult) -> Section | None:
    found, options = result.dilution, result.options
    if found is None:
        return None
    return Section(
        heading=f"{options.dilute:g} % to {options.strength:g} %",
        rows=(
            ("stock", f"{found.stock_ml:.1f} ml"),
            ("water, up to the mark", f"about {found.water_ml:.1f} ml"),
        ),
    )


def _ratios(result: BathResult) -> Section | None:
    if not result.portions:
        return None
    rows = tuple(
        (
            each.what,
            f"{each.low:.2f}"
            if each.high - each.low < 0.005
            else f"{each.low:.2f}-{each.high:.2f}",
            f"{each.needs:g}",
            "" if each.usual is None else f"{each.usual[0]:g}-{each.usual[1]:g}",
            f"{each.verdict} ({each.source})",
        )
        for each in result.ratios
    )
    lines = tuple(_portion_line(result, place) for place in range(len(result.portions)))
    return Section(
        heading="Amounts against each other",
        lines=lines,
        columns=("mol/mol", "has", "needs", "recipes", ""),
        rows=rows,
    )


def _portion_line(result: BathResult, place: int) -> str:
    each = result.portions[place]
    amount = "amount not fixed" if each.mmol is None else f"{each.mmol:.3g} mmol"
    return (
        f"{each.volume_ml:g} ml of {each.percent:g} % {each.form.name}: {amount}, "
        f"{each.mass_g:.3g} g"
    )


def _capacity(result: BathResult) -> Section | None:
    found, form = result.capacity, result.substance
    if found is None or form is None:
        return None
    low, high = found.sheets
    done = result.options.sheets_done
    used = () if done is None else (_used(found, done),)
    return Section(
        heading="Clearing bath",
        lines=(
            *used,
            f"{form.name} {result.options.strength:g} % holds "
            f"{found.capacity_mmol:.0f} mmol and binds iron one to one; a sheet brings "
            f"up to {found.load_mmol_per_sheet:.2f} mmol.",
            f"Call it spent after {low} to {high} sheets: 15 to 25 % of what it could "
            f"bind {UNVERIFIED}. Sooner, if borders stay yellow.",
        ),
    )


def _used(found: Capacity, sheets: int) -> str:
    return (
        f"After {sheets} sheets {100 * found.used_share(sheets):.0f} % of what it "
        f"could bind is used: {found.verdict(sheets)}."
    )


def _acid(result: BathResult) -> Section | None:
    found, form = result.acid_bath, result.substance
    if found is None or form is None:
        return None
    return Section(
        heading="Acid bath for buffered paper",
        lines=(
            f"A sheet holds {found.chalk_mmol:.1f} mmol of chalk and uses up "
            f"{found.acid_g:.2f} g of {form.name}: at most {found.sheets} sheets, "
            "fewer since the bath slows down. Calcium oxalate stays in the paper and "
            "feels gritty; citric or sulfamic acid leave soluble salts (practitioners' "
            "reports, grade B).",
        ),
    )


def _palladium(result: BathResult) -> Section | None:
    if result.palladium_g is None:
        return None
    salt, product = result.palladium_g
    options = result.options
    return Section(
        heading="Palladium salt",
        lines=(
            f"{options.palladium_chloride_g:g} g of palladium chloride take {salt:.3f} "
            f"g of {options.salt} and give {product:.3f} g of tetrachloropalladate: "
            "PdCl2 + 2 MCl.",
        ),
    )


def _oxalate(result: BathResult) -> Section | None:
    if result.oxalate_g is None:
        return None
    acid, carbonate = result.oxalate_g
    return Section(
        heading="Potassium oxalate from acid and carbonate",
        lines=(
            f"{result.options.oxalate_g:g} g take {acid:.1f} g of oxalic acid "
            f"dihydrate and {carbonate:.1f} g of potassium carbonate. It foams: add "
            "the carbonate slowly.",
        ),
    )


def bath_plain(result: BathResult) -> dict[str, Any]:
    """Return solutions and baths as plain values."""
    return {
        "process": None if result.process is None else result.process.key,
        "steps": [
            {**vars(step), "temperature": step.temperature} for step in result.steps
        ],
        "weighing": _values(result.weighing),
        "dilution": _values(result.dilution),
        "ratios": [vars(each) for each in result.ratios],
        "capacity": _values(result.capacity),
        "acid_bath": _values(result.acid_bath),
        "palladium_g": result.palladium_g,
        "oxalate_g": result.oxalate_g,
        "cautions": [each.as_plain() for each in bath_card(result).cautions],
    }


def _values(found: Any) -> dict[str, Any] | None:
    return None if found is None else dict(vars(found))
