"""What a sheet and a session cost, in whatever money the prices are in."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from negcurve.darkroom.coating import Pour
from negcurve.errors import InvalidValueError


@dataclass(frozen=True, kw_only=True)
class Cost:
    """What a sheet costs, in the user's money.

    Attributes
    ----------
    chemicals, paper, baths : float
        Of one sheet.
    per_sheet : float
        The three together.
    per_good_sheet : float
        With its share of failed sheets.
    session : float
        Of all sheets coated.
    """

    chemicals: float
    paper: float
    baths: float
    per_sheet: float
    per_good_sheet: float
    session: float


def cost(
    mix: Sequence[Pour],
    *,
    price_per_ml: Mapping[str, float],
    paper: float = 0.0,
    baths: float = 0.0,
    failed_share: float = 0.0,
    sheets: int = 1,
) -> Cost:
    """Sum the cost of a sheet and of a session.

    Parameters
    ----------
    mix : sequence of Pour
    price_per_ml : mapping of bottle name to price
        Every bottle of the mix.
    paper, baths : float
        Of one sheet.
    failed_share : float
        Sheets that fail, 0..0.95 of those coated.
    sheets : int
        Coated in the session.

    Returns
    -------
    Cost

    Raises
    ------
    InvalidValueError
        If a price is missing or negative, or the share is out of range.
    """
    if min((0.0, *price_per_ml.values(), paper, baths)) < 0:
        raise InvalidValueError(
            "a price below 0 cannot be used",
            where="price",
            fix="Give 0 where something costs nothing.",
        )
    missing = [p.bottle.name for p in mix if p.bottle.name not in price_per_ml]
    if missing:
        raise InvalidValueError(
            f"no price for {', '.join(missing)}",
            where="cost",
            fix="Give one for each bottle, per ml.",
        )
    if not 0 <= failed_share <= 0.95 or sheets < 1:
        raise InvalidValueError(
            f"a share of {failed_share:g} cannot fail",
            where="failed",
            fix="Give the share of sheets that fail, 0 to 0.95: 0.2 for one in five.",
        )
    chemicals = sum(p.volume_ml * price_per_ml[p.bottle.name] for p in mix)
    each = chemicals + paper + baths
    return Cost(
        chemicals=chemicals,
        paper=paper,
        baths=baths,
        per_sheet=each,
        per_good_sheet=each / (1 - failed_share),
        session=each * sheets,
    )
