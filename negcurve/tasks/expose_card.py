"""Worked-out exposures as a card, and as plain values for machines."""

from typing import Any

from negcurve.darkroom.cautions import cautions_for
from negcurve.darkroom.exposure import density_from_factor, stops_from_factor
from negcurve.darkroom.quantities import time_text
from negcurve.tasks.bench_card import UNVERIFIED, Card, Section
from negcurve.tasks.expose_values import BankLight, ExposeResult


def expose_card(result: ExposeResult) -> Card:
    """Put an exposure on a card."""
    sections = [
        _time_section(result),
        _between_section(result),
        _strip_section(result),
        _bank_section(result.bank),
        _eye_section(result),
        _process_section(result),
    ]
    title = "Exposure" if result.plan is None else "Test strip"
    words = [] if result.process is None else [result.process.name]
    return Card(
        title=title,
        sections=tuple(section for section in sections if section is not None),
        cautions=cautions_for(words, light=True),
    )


def _time_section(result: ExposeResult) -> Section | None:
    rows = [
        (each.what, f"x {each.factor:.4g}", f"{each.stops:+z.2f} stop")
        for each in result.corrections
    ]
    options = result.options
    if result.change is not None:
        factor = result.change
        rows.append(
            (
                f"print density {options.has:.2f} to {options.wants:.2f}",
                f"x {factor.value:.3g}",
                f"{stops_from_factor(factor.value):+z.2f} stop; 90 % interval "
                f"x {factor.low:.3g} to {factor.high:.3g}",
            )
        )
    unchanged = result.plan is not None or result.between is not None
    if not rows and (result.time_s is None or unchanged):
        return None
    lines = []
    if result.base_s is not None and result.time_s is not None:
        lines.append(
            f"{time_text(result.base_s)} becomes {time_text(result.time_s)} "
            f"({result.time_s:.1f} s)."
        )
    return Section(heading="Time", lines=tuple(lines), rows=tuple(rows))


def _between_section(result: ExposeResult) -> Section | None:
    found = result.between
    if found is None:
        return None
    return Section(
        heading="From one time to another",
        lines=(
            f"{found.what}: x {found.factor:.4g}, {found.stops:+z.2f} stop, log "
            f"exposure {density_from_factor(found.factor):+z.3f}.",
        ),
    )


def _strip_section(result: ExposeResult) -> Section | None:
    plan = result.plan
    if plan is None:
        return None
    first = plan.times_s[0]
    rows = tuple(
        (
            str(number),
            time_text(total),
            time_text(more),
            f"{stops_from_factor(total / first):+z.2f}",
            f"{density_from_factor(total / first):.2f}",
        )
        for number, (total, more) in enumerate(
            zip(plan.times_s, plan.increments_s, strict=True), start=1
        )
    )
    return Section(
        heading=f"{len(rows)} patches, {plan.stop_step:.3g} stop apart",
        lines=(
            "Either expose each patch on its own for its whole time; or expose the "
            "whole strip for the first time, then cover patch 1 and expose for the "
            "second increment, cover patch 2, and so on.",
            f"The strip takes {time_text(plan.times_s[-1])} with a covering card, "
            f"{time_text(sum(plan.times_s))} patch by patch.",
        ),
        columns=("patch", "whole time", "increment", "stops", "log exposure"),
        rows=rows,
    )


def _bank_section(bank: BankLight | None) -> Section | None:
    if bank is None:
        return None
    rows = []
    if bank.ripple is not None and bank.dead_tube_loss is not None:
        rows += [
            ("least over greatest light", f"{bank.ripple:.4f}", _log(bank.ripple)),
            (
                "beneath one dead tube",
                f"{1 - bank.dead_tube_loss:.3f}",
                f"{_log(1 - bank.dead_tube_loss)}, a band {2 * bank.height_mm:.0f} mm "
                "wide at half its depth, along the tubes, fixed to the lamp",
            ),
        ]
    if bank.edge is not None:
        rows.append(("at the sheet's edge", f"{bank.edge:.3f}", _log(bank.edge)))
    return Section(
        heading="Bank of tubes",
        lines=("For endless tubes without a reflector; reflectors even it out.",),
        columns=("where", "light", "log exposure"),
        rows=tuple(rows),
    )


def _log(share: float) -> str:
    return f"{density_from_factor(share):+z.3f}"


def _eye_section(result: ExposeResult) -> Section | None:
    if result.uva_limit_s is None:
        return None
    return Section(
        heading="Eyes",
        lines=(
            f"At {result.options.uva:g} mW/cm2 an unprotected eye reaches the UVA "
            f"limit of 8 hours in {time_text(result.uva_limit_s)}. Limits for the rest "
            "of the spectrum may be reached sooner.",
        ),
    )


def _process_section(result: ExposeResult) -> Section | None:
    work = result.process
    if work is None:
        return None
    low, high = work.exposure_min
    return Section(
        heading=work.name,
        lines=(
            f"Usual under a bank of UVA tubes: {low:g} to {high:g} min {UNVERIFIED}. "
            f"Self-masking: {work.masking}. {work.humidity}.",
        ),
    )


def expose_plain(result: ExposeResult) -> dict[str, Any]:
    """Return an exposure as plain values."""
    plan, bank, change = result.plan, result.bank, result.change
    return {
        "base_s": result.base_s,
        "time_s": result.time_s,
        "corrections": [dict(vars(each)) for each in result.corrections],
        "change_factor": None if change is None else change.as_plain(),
        "strip": None if plan is None else dict(vars(plan)),
        "bank": None if bank is None else dict(vars(bank)),
        "between": None if result.between is None else dict(vars(result.between)),
        "uva_limit_s": result.uva_limit_s,
        "process": None if result.process is None else result.process.key,
        "cautions": [each.as_plain() for each in expose_card(result).cautions],
    }
