"""How ranked ink mixtures are told."""

from typing import TYPE_CHECKING, Any

from negcurve.cli.output import print_result

if TYPE_CHECKING:
    from negcurve.response.ink_scale import HeldBack
    from negcurve.response.inks import InkRanking, RankedInk
    from negcurve.tasks.inks import InksResult

SHOWN = 12


def print_inks(result: "InksResult", *, as_json: bool) -> None:
    """Print a ranking as text or JSON."""
    print_result(
        "inks",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _text(result: "InksResult") -> str:
    ranking = result.ranking
    best = ranking.best
    lines = [
        f"{len(ranking.inks)} ink mixtures of {result.source}, lightest print first",
        "full ink     amount  print D          holds back",
        *(_row(each) for each in _shown(ranking)),
    ]
    if len(ranking.inks) > SHOWN:
        lines.append(f"and more, {len(ranking.inks)} in all: -o NAME.csv writes them")
    if ranking.known_by:
        base = "clear film" if ranking.from_clear else "no film at all"
        lines.append(
            f"holds back: printing density by the {ranking.known_by}, "
            f"counted from {base}"
        )
    lines += [
        f"least ink that prints within {ranking.tolerance:.3f} D of the lightest: "
        f"{best.ink.text}, {best.ink.amount:.0%} of black's",
        _black(ranking),
        "amount is what the file asks for; what the driver lays down is not known",
    ]
    lines += [f"wrote {result.output}"] if result.output else []
    lines.append(f"next: negcurve target target.tif --ink {best.ink.text}")
    return "\n".join(lines)


def _shown(ranking: "InkRanking") -> list["RankedInk"]:
    """Return the first, and of the others the best one and black."""
    kept = (ranking.best, ranking.black)
    first, others = ranking.inks[:SHOWN], ranking.inks[SHOWN:]
    return [*first, *(each for each in others if each in kept)]


def _row(each: "RankedInk") -> str:
    mark = "  efficient" if each.efficient else ""
    return (
        f"{each.ink.text:<12} {each.ink.amount:6.2f}  {each.density:.3f} "
        f"+-{each.error:.3f}  {_held(each.held_back):<18}{mark}".rstrip()
    )


def _held(held: "HeldBack") -> str:
    if not held.limit:
        return "not known"
    if held.limit == "within":
        return f"{held.density:.2f} +-{held.error:.2f}"
    return f"{held.limit} {held.density:.2f}"


def _black(ranking: "InkRanking") -> str:
    if ranking.black is None:
        return "black was not among them"
    if ranking.black_amount != ranking.black_amount:
        above = ranking.black.density - ranking.inks[0].density
        return f"black never prints as light: {above:.3f} D darker at full ink"
    return f"black does so at {ranking.black_amount:.0%} of its own"


def _plain(result: "InksResult") -> dict[str, Any]:
    ranking = result.ranking
    return {
        "output": result.output,
        "source": result.source,
        "best": ranking.best.ink.text,
        "tolerance": ranking.tolerance,
        "black_amount": ranking.black_amount,
        "known_by": ranking.known_by or None,
        "counted_from": "clear film" if ranking.from_clear else "no film",
        "inks": [
            {
                "ink": each.ink.text,
                "amount": each.ink.amount,
                "density": each.density,
                "standard_error": each.error,
                "patches": each.patches,
                "printing_density": each.held_back.density,
                "printing_error": each.held_back.error,
                "limit": each.held_back.limit or None,
                "efficient": each.efficient,
            }
            for each in ranking.inks
        ],
    }
