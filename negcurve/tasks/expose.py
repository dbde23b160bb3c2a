"""Plan a test strip, correct an exposure, and look at a lamp bank's geometry."""

from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.exposure import (
    StripPlan,
    beyond_inverse_square,
    distance_factor,
    exposure_change,
    factor_from_density,
    factor_from_stops,
    integrator_time,
    output_factor,
    plan_strip,
    stops_from_factor,
    uva_limit_time,
)
from negcurve.darkroom.lamp_bank import (
    bank_distance_factor,
    dead_tube_loss,
    edge_light,
    ripple,
)
from negcurve.darkroom.processes import Process, check_extrapolation, process
from negcurve.darkroom.quantities import seconds, stops
from negcurve.errors import InvalidValueError
from negcurve.files.safe import write_text
from negcurve.target.sizes import UNITS_PER_MM, length_units
from negcurve.tasks.expose_card import expose_card
from negcurve.tasks.expose_values import (
    BankLight,
    Correction,
    ExposeOptions,
    ExposeResult,
)
from negcurve.tasks.page_file import check_page
from negcurve.tasks.tablet import tablet
from negcurve.tasks.tablet_values import TabletOptions
from negcurve.values import Finding, Progress, no_progress

SPENT_OUTPUT = 0.70
"""Lamp output at which UV tubes are called spent. Source: sunlamp depreciation, trade
articles (grade B)."""


def expose(options: ExposeOptions, *, progress: Progress = no_progress) -> ExposeResult:
    """Work out exposures.

    Parameters
    ----------
    options : ExposeOptions
    progress : Progress

    Returns
    -------
    ExposeResult

    Raises
    ------
    InvalidValueError
        If an option is out of range or there is nothing to work out.
    ReadingsError
        If a print-out process is carried beyond one stop, or a curve cannot be used.
    FileError
        If a file cannot be read or written.
    """
    check_page(options.page, overwrite=options.overwrite, inputs=[options.curve])
    work = None if options.process is None else process(options.process)
    base_s = _base_time(options)
    found: list[Finding] = []
    corrections = _corrections(options, work, found)
    change = _curve_change(options, work)
    bank, between = _bank(options), _between(options, base_s)
    progress("working out", 0.5)
    if not corrections and (change, bank, between) == (None, None, None):
        _check_anything(options)
    time_s = base_s
    for each in corrections:
        time_s = None if time_s is None else time_s * each.factor
    if time_s is not None and change is not None:
        time_s *= change.value
    result = ExposeResult(
        options=options,
        base_s=base_s,
        corrections=corrections,
        change=change,
        time_s=time_s,
        plan=_plan(options, time_s),
        bank=bank,
        between=between,
        uva_limit_s=None if options.uva is None else uva_limit_time(options.uva),
        process=work,
        findings=tuple(found),
    )
    if options.page is not None:
        page = expose_card(result).page()
        write_text(options.page, page, overwrite=options.overwrite)
    return result


def _check_anything(options: ExposeOptions) -> None:
    if options.uva is None and options.patches is None and options.units is None:
        raise InvalidValueError(
            "nothing to work out",
            where="expose",
            fix="Give a time and what changes it, such as 8m --lamp 0.85, or "
            "60s --patches 7 for a test strip.",
        )


def _base_time(options: ExposeOptions) -> float | None:
    if options.units is None:
        return None if options.time is None else seconds(options.time)
    if options.time is not None:
        raise InvalidValueError(
            "both a time and integrator units were given",
            where="expose",
            fix="Give the time, or --units with --units-per-s.",
        )
    if options.units_per_s is None:
        raise InvalidValueError(
            "units alone give no time",
            where="--units",
            fix="Give --units-per-s: what the integrator counts in a second.",
        )
    return integrator_time(options.units, units_per_s=options.units_per_s)


def _corrections(
    options: ExposeOptions, work: Process | None, found: list[Finding]
) -> tuple[Correction, ...]:
    kept = []
    if options.lamp is not None:
        _within(options.lamp, 0, 3, "--lamp", "Give a share: 0.85 for 85 %.")
        factor = output_factor(options.lamp)
        kept.append(_correction(f"lamp at {options.lamp:g} of its reference", factor))
        if options.lamp <= SPENT_OUTPUT:
            found.append(_spent(options.lamp))
    if options.density is not None:
        _within(options.density, -4, 4, "--density", "Give it in density, as 0.12.")
        factor = factor_from_density(options.density)
        kept.append(_correction(f"density {options.density:+g} in the way", factor))
    if options.stops is not None:
        change = stops(options.stops)
        _within(change, -10, 10, "--stops", "Give stops, as +1/2 or -1.")
        check_extrapolation(work, change)
        kept.append(_correction("change wanted", factor_from_stops(change)))
    kept += _distance(options, found)
    return tuple(kept)


def _within(value: float, low: float, high: float, where: str, fix: str) -> None:
    """Refuse what was typed in another unit, as percent."""
    if not low <= value <= high:
        raise InvalidValueError(
            f"{value:g} lies outside {low:g}..{high:g}", where=where, fix=fix
        )


def _correction(what: str, factor: float) -> Correction:
    return Correction(what=what, factor=factor, stops=stops_from_factor(factor))


def _spent(output: float) -> Finding:
    return Finding(
        severity="warning",
        where="lamp",
        what=f"gives {100 * output:.0f} % of its reference; UV tubes are called spent "
        "at 70 %, and their spectrum may have moved",
        fix="Change the tubes and test again; look for loose contacts first.",
    )


def _mm(text: str | None, where: str) -> float | None:
    return None if text is None else length_units(text, where=where) / UNITS_PER_MM


def _distance(options: ExposeOptions, found: list[Finding]) -> list[Correction]:
    before = _mm(options.from_distance, "--from-distance")
    after = _mm(options.to_distance, "--to-distance")
    if before is None and after is None:
        return []
    if before is None or after is None:
        raise InvalidValueError(
            "one distance alone changes nothing",
            where="--from-distance" if after is None else "--to-distance",
            fix="Give both: --from-distance 50cm --to-distance 70cm.",
        )
    bank = _mm(options.bank_width, "--bank-width")
    if bank is not None:
        factor = bank_distance_factor(before, after, bank_width_mm=bank)
        found.append(_measure("endless tubes without reflector"))
    else:
        size = _mm(options.source, "--source") or 0.0
        factor = distance_factor(before, after, source_diameter_mm=size)
        found += _about_distance(min(before, after), size)
    what = f"distance {options.from_distance} to {options.to_distance}"
    return [_correction(what, factor)]


def _about_distance(nearest_mm: float, source_mm: float) -> list[Finding]:
    if source_mm == 0:
        return [
            Finding(
                severity="warning",
                where="distance",
                what="inverse square is good to 1 % only beyond 5 source diameters, "
                "and not for banks of tubes",
                fix="Give --source or --bank-width, or measure.",
            )
        ]
    if beyond_inverse_square(nearest_mm, source_mm):
        return [_measure("an even, round source instead of inverse square")]
    return []


def _measure(model: str) -> Finding:
    return Finding(
        severity="note",
        where="distance",
        what=f"worked out for {model}; close to a lamp this is a guide",
        fix="Measure, or print a test strip.",
    )


def _curve_change(options: ExposeOptions, work: Process | None) -> Estimate | None:
    ends = (options.has, options.wants)
    if options.curve is None:
        if ends != (None, None):
            raise InvalidValueError(
                "a change between densities needs the curve of the process",
                where="--has, --wants",
                fix="Name the readings of its step tablet with --curve.",
            )
        return None
    if options.has is None or options.wants is None:
        raise InvalidValueError(
            "a curve alone changes nothing",
            where="--curve",
            fix="Give the densities that a tone has and wants: --has 0.62 --wants "
            "0.70.",
        )
    strip = TabletOptions(strip=options.curve, tablet=options.tablet)
    curve = tablet(strip).curve
    if curve is None:
        raise InvalidValueError(
            "holds no curve",
            where=str(options.curve),
            fix="Name the CSV step,density of the process's printed step tablet.",
        )
    change = exposure_change(
        curve, has_density=options.has, wanted_density=options.wants
    )
    check_extrapolation(work, stops_from_factor(change.value))
    return change


def _between(options: ExposeOptions, base_s: float | None) -> Correction | None:
    if options.other_time is None:
        return None
    if base_s is None:
        raise InvalidValueError(
            "needs a time to compare with", where="--to-time", fix="Write 8m first."
        )
    factor = seconds(options.other_time, where="--to-time") / base_s
    return _correction(f"{options.time} to {options.other_time}", factor)


def _plan(options: ExposeOptions, time_s: float | None) -> StripPlan | None:
    if options.patches is None:
        return None
    if time_s is None:
        raise InvalidValueError(
            "a test strip needs its first time", where="--patches", fix="Write 60s."
        )
    return plan_strip(
        time_s, patches=options.patches, stop_step=stops(options.stop_step)
    )


def _bank(options: ExposeOptions) -> BankLight | None:
    height = _mm(options.tube_height, "--tube-height")
    spacing = _mm(options.tube_spacing, "--tube-spacing")
    overhang = _mm(options.overhang, "--overhang")
    if height is None:
        if spacing is not None or overhang is not None:
            raise InvalidValueError(
                "says nothing without the height of the tubes",
                where="--tube-spacing" if overhang is None else "--overhang",
                fix="Give --tube-height as well: --tube-height 10cm.",
            )
        return None
    return BankLight(
        height_mm=height,
        ripple=None if spacing is None else ripple(height / spacing),
        dead_tube_loss=None if spacing is None else dead_tube_loss(height / spacing),
        edge=None if overhang is None else edge_light(overhang / height),
    )
