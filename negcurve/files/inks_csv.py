"""Ranked ink mixtures as CSV, the one that prints lightest first."""

from negcurve.response.inks import InkRanking

COLUMNS = (
    "ink",
    "amount",
    "density",
    "standard_error",
    "printing_density",
    "printing_error",
    "limit",
    "efficient",
)


def inks_text(ranking: InkRanking) -> str:
    """Write a ranking.

    Parameters
    ----------
    ranking : InkRanking

    Returns
    -------
    str
        CSV; what is not known is empty.
    """
    lines = [",".join(COLUMNS)]
    for each in ranking.inks:
        held = each.held_back
        cells = (
            f'"{each.ink.text}"',
            _number(each.ink.amount),
            _number(each.density),
            _number(each.error),
            _number(held.density),
            _number(held.error),
            held.limit,
            "yes" if each.efficient else "no",
        )
        lines.append(",".join(cells))
    return "\n".join(lines) + "\n"


def _number(value: float) -> str:
    return f"{value:.5f}" if value == value else ""
