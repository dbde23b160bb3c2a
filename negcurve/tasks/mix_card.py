"""A coating mix as a card, and as plain values for machines."""

from typing import Any

from negcurve.darkroom.cautions import cautions_for
from negcurve.darkroom.coating import CM2_PER_IN2, Pour
from negcurve.darkroom.costing import Cost
from negcurve.tasks.bench_card import UNVERIFIED, Card, Section
from negcurve.tasks.mix_values import MixResult


def mix_card(result: MixResult) -> Card:
    """Put a mix on a card."""
    words = [result.process.name]
    for pour in result.pours:
        words += [pour.bottle.name, *(each.substance for each in pour.bottle.contents)]
    return Card(
        title=f"Coating for {result.options.size}, {result.process.name}",
        sections=tuple(
            section
            for section in (
                _bottles(result),
                _volume(result),
                _amounts(result),
                _price(result.cost, result),
            )
            if section is not None
        ),
        cautions=cautions_for(words),
    )


def _bottles(result: MixResult) -> Section:
    rows = tuple(_row(pour) for pour in result.pours)
    drops = sum(pour.drops for pour in result.pours)
    volume = sum(pour.volume_ml for pour in result.pours)
    total = ("together", str(drops), f"{volume:.2f}", "", "", "")
    mark = f" {UNVERIFIED}" if "drops per ml" in result.unverified else ""
    return Section(
        heading=f"Per sheet, {result.drops_per_ml:g} drops per ml{mark}",
        columns=("bottle", "drops", "ml", "rounding", "mmol", "solution"),
        rows=(*rows, total),
    )


def _row(pour: Pour) -> tuple[str, ...]:
    mmol = "" if pour.mmol is None else f"{pour.mmol:.3g}"
    parts = [f"{each.percent:g} % {each.substance}" for each in pour.bottle.contents]
    text = ", ".join(parts) or "your own"
    if not pour.bottle.verified:
        text += f" {UNVERIFIED}"
    return (
        pour.bottle.name,
        str(pour.drops),
        f"{pour.volume_ml:.2f}",
        f"{pour.rounding_percent:+z.1f} %",
        mmol,
        text,
    )


def _volume(result: MixResult) -> Section:
    tool = result.tool
    missing = [
        name for name in ("deposit", "hold-up", "waste") if name in result.unverified
    ]
    mark = f" {', '.join(missing)} {UNVERIFIED}." if missing else ""
    return Section(
        heading="Volume",
        lines=(
            f"{result.area_cm2:.0f} cm2 ({result.area_cm2 / CM2_PER_IN2:.1f} in2) take "
            f"{result.volume_ml:.2f} ml with a {tool.name}: "
            f"{tool.deposit_ml_per_in2:.3f} ml/in2 and {tool.holdup_ml:g} ml that the "
            f"tool keeps.{mark}",
        ),
    )


def _amounts(result: MixResult) -> Section | None:
    lines = []
    ratio = result.iron_ratio
    if ratio is not None:
        lines.append(
            f"{ratio.what[0].upper()}{ratio.what[1:]}: {_span(ratio.low, ratio.high)} "
            f"mol/mol, {ratio.verdict} ({ratio.source})."
        )
    if result.agent_per_metal is not None:
        low, high = result.agent_per_metal
        place = result.options.agent_place
        how = "on top" if place == "extra" else "in place of metal"
        lines.append(
            f"Contrast agent to metal: {_span(low, high)} mmol/mmol, drops {how}. Keep "
            "this figure, not the drops, with your tests."
        )
    return Section(heading="Amounts", lines=tuple(lines)) if lines else None


def _span(low: float, high: float) -> str:
    if high - low < 0.005 * high:
        return f"{low:.3g}"
    return f"{low:.3g} to {high:.3g}"


def _price(cost: Cost | None, result: MixResult) -> Section | None:
    if cost is None:
        return None
    return Section(
        heading="Cost, in your money",
        rows=(
            ("chemicals", f"{cost.chemicals:.2f}"),
            ("paper", f"{cost.paper:.2f}"),
            ("baths", f"{cost.baths:.2f}"),
            ("per sheet", f"{cost.per_sheet:.2f}"),
            ("per good sheet", f"{cost.per_good_sheet:.2f}"),
            (f"session of {result.options.sheets}", f"{cost.session:.2f}"),
        ),
    )


def mix_plain(result: MixResult) -> dict[str, Any]:
    """Return a mix as plain values."""
    return {
        "process": result.process.key,
        "area_cm2": result.area_cm2,
        "volume_ml": result.volume_ml,
        "drops_per_ml": result.drops_per_ml,
        "bottles": [
            {
                "name": pour.bottle.name,
                "role": pour.bottle.role,
                "drops": pour.drops,
                "volume_ml": pour.volume_ml,
                "exact_ml": pour.exact_ml,
                "rounding_percent": pour.rounding_percent,
                "mmol": pour.mmol,
                "contents": [dict(vars(each)) for each in pour.bottle.contents],
                "source": pour.bottle.source,
                "verified": pour.bottle.verified,
            }
            for pour in result.pours
        ],
        "agent_per_metal": result.agent_per_metal,
        "iron_ratio": None if result.iron_ratio is None else vars(result.iron_ratio),
        "cost": None if result.cost is None else dict(vars(result.cost)),
        "unverified": result.unverified,
        "cautions": [each.as_plain() for each in mix_card(result).cautions],
    }
