"""The result of a tablet test as a card."""

from negcurve.darkroom.cautions import cautions_for
from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.exposure import stops_from_factor
from negcurve.darkroom.matching import USABLE_SHARES, Match
from negcurve.darkroom.negative_range import CLOSE_ENOUGH
from negcurve.darkroom.quantities import time_text
from negcurve.darkroom.shape_fit import Point
from negcurve.darkroom.strip_findings import black_by_shape
from negcurve.tasks.bench_card import UNVERIFIED, Card, Section
from negcurve.tasks.curve_figure import curve_figure
from negcurve.tasks.tablet_values import TabletResult


def tablet_card(result: TabletResult) -> Card:
    """Put a tablet test on a card."""
    sections = [
        _scale_section(result),
        _time_section(result),
        _match_section(result),
        _fit_section(result),
        _series_section(result),
        _process_section(result),
        _steps_section(result),
    ]
    work = result.process
    words = [] if work is None else [work.name, work.contrast_up]
    if result.series is not None:
        words.append("chloroplatinate, dichromate, chlorate")
    return Card(
        title=f"Step-tablet test, {result.tablet.name}",
        sections=tuple(section for section in sections if section is not None),
        cautions=cautions_for(words, light=True),
        figure="" if result.curve is None else curve_figure(result.curve),
    )


def _value(estimate: Estimate, digits: int = 2) -> str:
    return (
        f"{estimate.value:.{digits}f} "
        f"({estimate.low:.{digits}f} to {estimate.high:.{digits}f})"
    )


def _scale_section(result: TabletResult) -> Section | None:
    rows: list[tuple[str, str, str]] = []
    if result.curve is not None and result.range is not None:
        rows += _curve_rows(result.curve, result)
    if result.eye_scale is not None:
        rows.append(
            (
                "exposure scale by eye",
                _value(result.eye_scale),
                "log10, first merged to last visible step; usually 0.1-0.3 longer than "
                f"between the ISO points {UNVERIFIED}",
            )
        )
    if not rows:
        return None
    return Section(
        heading="Exposure scale (90 % intervals)",
        columns=("", "", ""),
        rows=tuple(rows),
        lines=(_nominal_note(result),) if result.tablet.nominal else (),
    )


def _nominal_note(result: TabletResult) -> str:
    return (
        f"Tablet densities are nominal: steps of {result.tablet.increment:.2f} from "
        f"{result.tablet.density[0]:.2f}. Measured ones (--tablet CSV) are better; "
        "cheap tablets drift at the dense end."
    )


def _curve_rows(
    curve: CharacteristicCurve, result: TabletResult
) -> list[tuple[str, str, str]]:
    found = result.range
    assert found is not None  # a curve always comes with its range
    scale = found.exposure_scale
    kind = "no class" if found.iso_range is None else f"class {found.iso_range}"
    rows = [
        ("D-min", _value(curve.d_min), "density"),
        ("D-max", _value(curve.d_max), "density"),
        (
            "exposure scale",
            _value(scale),
            f"log10, D-min + 0.04 to 90 % of the range (ISO 6846): "
            f"{scale.value / 0.30103:.1f} stops; R {100 * scale.value:.0f}, {kind}",
        ),
        ("average gradient", _value(found.average_gradient), "between these points"),
        (
            "as an eye reads it",
            _value(found.eye_scale),
            "log10, one L* from white to one L* from black",
        ),
        ("one reading errs by", f"{curve.noise:.3f}", "density, standard deviation"),
    ]
    if result.lamp_gradient is not None:
        rows.append(
            (
                "lamp along the strip",
                _value(result.lamp_gradient, 3),
                "log10 from step 1's end to the other; taken out of the curve. Even "
                "fall-off to both ends cannot be seen this way",
            )
        )
    return rows


def _time_section(result: TabletResult) -> Section | None:
    options, test_s = result.options, result.test_time_s
    if test_s is None:
        return None
    lines = []
    if result.black_time_s is not None:
        time = result.black_time_s
        change = stops_from_factor(time.value / test_s)
        share = f"{100 * options.black_share:g} %"
        lines += [
            f"{time_text(time.value)} ({time_text(time.low)} to "
            f"{time_text(time.high)}) by the curve, {change:+z.2f} stops from the test "
            f"of {time_text(test_s)}.",
            f"Black counts from {share} of the range from D-min to D-max {UNVERIFIED}.",
            *_by_shape(result, time),
        ]
    if result.eye_black_time_s is not None:
        lines.append(
            f"{time_text(result.eye_black_time_s)} by eye, from step "
            f"{options.merged_step}, the densest that is still black; the true limit "
            f"lies up to one step further, {time_text(_step_less(result))}."
        )
    lines.append(_film_line(result))
    return Section(heading="Least time for black under clear film", lines=tuple(lines))


def _step_less(result: TabletResult) -> float:
    """Return the eye-read time less one step of the tablet. [s]."""
    tablet, step = result.tablet, result.options.merged_step or 1
    gap = tablet.increment
    if step < tablet.steps:
        gap = tablet.at(step + 1) - tablet.at(step)
    return float((result.eye_black_time_s or 0.0) / 10.0**gap)


def _by_shape(result: TabletResult, time: Estimate) -> tuple[str, ...]:
    """Say what curves of other shapes would give, where that goes beyond the error."""
    if result.curve is None:
        return ()
    share = result.options.black_share
    middle = result.curve.place(Point.at_share(share)).value
    ends = black_by_shape(result.curve, black_share=share)
    low, high = (time.value * 10 ** (end - middle) for end in ends)
    if low >= time.low and high <= time.high:
        return ()
    return (
        f"Curves of other shapes that fit as well give {time_text(low)} to "
        f"{time_text(high)}.",
    )


def _film_line(result: TabletResult) -> str:
    options = result.options
    if options.film_over:
        return (
            "Clear film lay over the tablet as it does in a negative, so its density "
            "drops out."
        )
    if options.film_density is None:
        return "No film lay over the tablet and none is counted: see the warning."
    return (
        f"No film lay over the tablet; the negative's clear film of "
        f"{options.film_density:.2f} D is added."
    )


def _match_section(result: TabletResult) -> Section | None:
    if not result.matches:
        return None
    zero = "clear film" if result.options.film_over else "no film"
    low, high = (round(100 * share) for share in USABLE_SHARES)
    lines = [
        f"Counted from {zero}. A match is a number where the print lies between {low} "
        f"and {high} % of its range."
    ]
    if result.second is not None:
        a, b = result.second.covers
        lines.append(
            f"Second sheet: expose {result.second.factor:.2g} times this one; it "
            f"measures {a:.2f} to {b:.2f}."
        )
    return Section(
        heading="Printing density by matching",
        lines=tuple(lines),
        columns=("patch", "print D", "readings", "printing density"),
        rows=tuple(_match_row(match) for match in result.matches),
    )


def _match_row(match: Match) -> tuple[str, str, str, str]:
    found = match.printing_density
    text = _value(found)
    if match.limit != "within":
        text = f"{match.limit} {found.value:.2f}"
    return match.patch, f"{match.print_density:.2f}", str(match.readings), text


def _fit_section(result: TabletResult) -> Section | None:
    fit = result.fit
    scale = result.exposure_scale
    if fit is None:
        if scale is None:
            return None
        return Section(
            heading="Negative",
            lines=(
                f"A negative fits whose printing densities range over {scale:.2f}, "
                f"within 0.10 {UNVERIFIED}: for a digital negative the ink must block "
                "at least that much more than clear film, for a camera negative it is "
                "shadow to highlight as this lamp sees it.",
            ),
        )
    change = f"{abs(fit.shortfall):.2f} {'short' if fit.shortfall > 0 else 'too long'}"
    return Section(
        heading=f"Negative ({result.options.negative_kind})",
        lines=(
            f"Range {fit.density_range:.2f} against scale {fit.exposure_scale:.2f}: "
            f"{change}; within {CLOSE_ENOUGH:.2f} counts as fitting {UNVERIFIED}. "
            f"{fit.verdict[0].upper()}{fit.verdict[1:]}.",
            *fit.advice,
            *_gradient_line(result),
        ),
    )


def _gradient_line(result: TabletResult) -> tuple[str, ...]:
    fit = result.fit
    if fit is None or result.options.negative_kind != "camera" or not fit.advice:
        return ()
    return (f"Factor for its average gradient: {fit.gradient_factor:.2f}.",)


def _series_section(result: TabletResult) -> Section | None:
    series = result.series
    if series is None:
        return None
    pairs = sorted(zip(series.dose, series.exposure_scale, strict=True))
    rows = tuple(
        (f"{dose:g}", f"{scale:.2f}", f"{float(series.scale_at(dose)):.2f}")
        for dose, scale in pairs
    )
    lines = []
    if result.dose is not None:
        lines.append(
            f"Dose for the wanted scale: {_value(result.dose)} in the unit of your "
            "tests; other papers, metals or damp need tests of their own."
        )
    return Section(
        heading="Contrast agent, from your own tests",
        columns=("dose", "scale", "fitted"),
        rows=rows,
        lines=tuple(lines),
    )


def _process_section(result: TabletResult) -> Section | None:
    work = result.process
    if work is None:
        return None
    low, high = work.exposure_scale
    mark = f" {UNVERIFIED}" if work.unverified else ""
    return Section(
        heading=work.name,
        lines=(
            f"Usual exposure scale {low:g} to {high:g}, D-max {work.d_max[0]:g} to "
            f"{work.d_max[1]:g}, grade {work.grade}: {work.source}{mark}.",
            f"More contrast: {work.contrast_up}. Less: {work.contrast_down}{mark}.",
            f"Humidity: {work.humidity}. Self-masking: {work.masking}{mark}.",
        ),
    )


def _steps_section(result: TabletResult) -> Section | None:
    curve = result.curve
    if curve is None:
        return None
    fitted = curve.density - curve.residual
    rows = tuple(
        (
            f"{step:.0f}",
            f"{result.tablet.at(int(step)):.2f}",
            f"{read:.2f}",
            f"{fit:.2f}",
            f"{read - fit:+z.2f}",
        )
        for step, read, fit in zip(result.step, curve.density, fitted, strict=True)
    )
    return Section(
        heading="Steps",
        columns=("step", "tablet D", "print D", "curve", "off"),
        rows=rows,
        detail=True,
    )
