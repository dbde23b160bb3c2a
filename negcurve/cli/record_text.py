"""What `negcurve record` prints, for people and for machines."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from negcurve.darkroom.cautions import Caution
    from negcurve.record import Comparison, Entry
    from negcurve.tasks.record import Listing, Shown
    from negcurve.tasks.record_drydown import DryDownResult
    from negcurve.tasks.record_strip import StripResult
    from negcurve.watch.judgement import Judgement


def plain_entry(entry: "Entry") -> dict[str, Any]:
    """Return an entry for machines."""
    return {
        "key": entry.key,
        "name": entry.name,
        "time": entry.time.isoformat(),
        "table": entry.table,
        "aim": entry.aim,
        "circumstances": entry.circumstances,
        "ends": entry.ends,
        "files": entry.files,
        "remarks": entry.remarks,
    }


def listing_text(listing: "Listing") -> str:
    """Return a list for people, a line each."""
    if not listing.entries:
        return "no calibration of this kind"
    lines = [f"{'date':10}  {'name':24}  table     D-max  strips"]
    for each in listing.entries:
        gone = "  out of service" if each.key in listing.retired else ""
        where = ", ".join(
            str(each.circumstances[key])
            for key in ("process", "paper")
            if key in each.circumstances
        )
        lines.append(
            f"{each.time:%Y-%m-%d}  {each.name:24}  {each.table}  "
            f"{each.ends.get('d_max', float('nan')):5.2f}  "
            f"{listing.strips.get(each.key, 0):6d}  {where}{gone}".rstrip()
        )
    return "\n".join(lines)


def shown_text(shown: "Shown") -> str:
    """Return a calibration for people."""
    entry, ends = shown.entry, shown.solution.ends
    lines = [
        f"{entry.name}  ({entry.key})",
        f"made {entry.time:%Y-%m-%d %H:%M} UTC, table {entry.table}, aim {entry.aim}",
        f"D-min {ends.d_min:.2f}, D-max {ends.d_max:.2f}; black D "
        f"{ends.black_density:.2f}, white D {ends.white_density:.2f}",
        *(f"{key}: {value}" for key, value in entry.circumstances.items()),
        *([f"not told: {', '.join(shown.unknown)}"] if shown.unknown else []),
        *([f"remarks: {entry.remarks}"] if entry.remarks else []),
        *(f"from {name}  sha256 {value[:12]}" for name, value in entry.files.items()),
        f"solution {shown.path}",
    ]
    if shown.retired:
        lines.append(f"out of service: {shown.retired}")
    if shown.judgement:
        lines += ["", *judgement_lines(shown.judgement)]
    else:
        lines.append("no strips yet")
    lines += caution_lines(shown.cautions)
    return "\n".join(lines)


def plain_shown(shown: "Shown") -> dict[str, Any]:
    """Return a calibration for machines."""
    return {
        **plain_entry(shown.entry),
        "solution": shown.path,
        "in_service": not shown.retired,
        "retired_because": shown.retired or None,
        "unknown": shown.unknown,
        "strips": [each.key for each in shown.strips],
        "judgement": plain_judgement(shown.judgement) if shown.judgement else None,
    }


def comparison_text(comparison: "Comparison") -> str:
    """Return a comparison for people."""
    lines = [f"{comparison.one.name}  against  {comparison.two.name}", ""]
    for key, (one, two) in comparison.circumstances.items():
        lines.append(f"{key}: {one or 'not told'}  |  {two or 'not told'}")
    if not comparison.circumstances:
        lines.append("no circumstance differs")
    lines += ["", "level   D first  D second  difference"]
    for k in range(0, len(comparison.negative_level), 2):
        lines.append(
            f"{comparison.negative_level[k]:5.3f}  {comparison.density_one[k]:8.2f}  "
            f"{comparison.density_two[k]:8.2f}  "
            f"{comparison.density_difference[k]:+z10.3f}"
        )
    verdict = (
        f"no more than two sheets of one process (spread {comparison.usual:.3f} D)"
        if comparison.same
        else f"more than two sheets of one process (spread {comparison.usual:.3f} D)"
    )
    return "\n".join([*lines, "", f"the responses differ by {verdict}"])


def plain_comparison(comparison: "Comparison") -> dict[str, Any]:
    """Return a comparison for machines."""
    return {
        "one": comparison.one.key,
        "two": comparison.two.key,
        "circumstances": comparison.circumstances,
        "same": comparison.same,
        "usual": comparison.usual,
        "response": {
            "negative_level": comparison.negative_level,
            "density_one": comparison.density_one,
            "density_two": comparison.density_two,
        },
        "table": {
            "image_tone": comparison.image_tone,
            "level_one": comparison.level_one,
            "level_two": comparison.level_two,
            "lightness_error": comparison.lightness_error,
        },
    }


def caution_lines(cautions: "Sequence[Caution]") -> list[str]:
    """Return cautions as lines under an empty one, with whom to ask."""
    from negcurve.darkroom.cautions import DEFER

    return ["", *(str(each) for each in cautions), DEFER] if cautions else []


def judgement_lines(judgement: "Judgement") -> list[str]:
    """Return a judgement for people, in lines."""
    lines = [
        f"{judgement.sessions} "
        f"{'session' if judgement.sessions == 1 else 'sessions'}: {judgement.kind}"
        f"{' (limits provisional)' if judgement.provisional else ''}"
    ]
    if judgement.kind not in ("in control", "unreadable"):
        unit = "" if judgement.part == "contrast" else " D"
        lines.append(
            f"changed by {judgement.amount:+z.3f}{unit} (standard error "
            f"{judgement.error:.3f}) since session {(judgement.since or 0) + 1}"
        )
    if judgement.log_exposure is not None and judgement.time_factor is not None:
        lines.append(
            f"exposure {judgement.log_exposure:+z.3f} log, "
            f"{judgement.log_exposure / 0.30103:+z.2f} stop: multiply the time by "
            f"{judgement.time_factor:.2f}"
        )
    if judgement.causes:
        lines.append("likely causes, in order:")
        lines += [f"  {each}" for each in judgement.causes]
    return [*lines, f"next: {judgement.advice}"]


def plain_judgement(judgement: "Judgement") -> dict[str, Any]:
    """Return a judgement for machines."""
    return {
        "kind": judgement.kind,
        "part": judgement.part,
        "amount": judgement.amount,
        "standard_error": judgement.error,
        "log_exposure": judgement.log_exposure,
        "log_exposure_error": judgement.log_exposure_error,
        "time_factor": judgement.time_factor,
        "sessions": judgement.sessions,
        "since": judgement.since,
        "provisional": judgement.provisional,
        "causes": judgement.causes,
        "advice": judgement.advice,
        "charts": {
            part: {
                "value": chart.value,
                "centre": chart.centre,
                "spread": chart.spread,
                "reach": chart.reach,
                "alarm": chart.alarm,
            }
            for part, chart in judgement.charts.items()
        },
    }


def strip_text(result: "StripResult") -> str:
    """Return a strip and its verdict for people."""
    parts = result.deviation.parts
    lines = [
        f"strip of {result.entry.name!r}, {result.deviation.readings} patches, "
        f"added as {result.strip.key}",
        f"exposure {shown_number(parts[0])} D at mid-tone, contrast "
        f"{shown_number(100 * parts[1], 0)} %, D-max {shown_number(parts[2])} D, white "
        f"{shown_number(parts[3])} D against the calibration",
        "",
        *judgement_lines(result.judgement),
    ]
    if result.plot:
        lines.append(f"wrote {result.plot}")
    lines += caution_lines(result.cautions)
    return "\n".join(lines)


def shown_number(value: float, digits: int = 3) -> str:
    """Return a number with its sign, or that it was not shown."""
    return "not shown" if value != value else f"{value:+z.{digits}f}"


def plain_strip(result: "StripResult") -> dict[str, Any]:
    """Return a strip and its verdict for machines."""
    deviation = result.deviation
    names = ("exposure", "contrast", "d_max", "white")
    return {
        "calibration": result.entry.key,
        "strip": result.strip.key,
        "plot": result.plot,
        "deviation": {
            **dict(zip(names, map(float, deviation.parts), strict=True)),
            "log_exposure": deviation.log_exposure,
            "noise": deviation.noise,
            "patches": deviation.readings,
        },
        "judgement": plain_judgement(result.judgement),
    }


def drydown_text(result: "DryDownResult") -> str:
    """Return dry-down for people."""
    model = result.model
    lines = [
        f"{model.pairs} pairs of {model.prints} "
        f"{'print' if model.prints == 1 else 'prints'}, noise {model.noise:.3f} D",
        "",
        "wet D   dry D   90 % interval",
    ]
    for wet, dry, half in zip(result.wet, result.dry, result.half_width, strict=True):
        shown = f"{dry:5.2f}   +-{half:.3f}" if dry == dry else "beyond the pairs"
        lines.append(f"{wet:5.2f}   {shown}")
    if result.settling:
        hours = result.settling.hours
        when = "not known yet" if hours is None else f"{hours:.1f} h"
        lines += ["", f"earliest honest reading: {when}; {result.settling.why}"]
    return "\n".join(lines)


def plain_drydown(result: "DryDownResult") -> dict[str, Any]:
    """Return dry-down for machines."""
    model, settling = result.model, result.settling
    return {
        "pairs": model.pairs,
        "prints": model.prints,
        "coefficients": model.coefficients,
        "noise": model.noise,
        "print_spread": model.print_spread,
        "spread_assumed": model.spread_assumed,
        "wet": result.wet,
        "dry": result.dry,
        "half_width": result.half_width,
        "settling": None
        if settling is None
        else {
            "hours": settling.hours,
            "time_constant_hours": settling.time_constant_hours,
            "rest": settling.rest,
            "why": settling.why,
        },
    }
