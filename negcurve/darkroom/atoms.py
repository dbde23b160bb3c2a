"""Atomic masses, and molar masses of formulas computed from them.

Knows nothing of photography.
"""

import re

from negcurve.errors import InvalidValueError

ATOMIC_MASS_G_PER_MOL = {
    "H": 1.008,
    "Li": 6.94,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "Na": 22.98976928,
    "Mg": 24.305,
    "S": 32.06,
    "Cl": 35.45,
    "K": 39.0983,
    "Ca": 40.078,
    "Cr": 51.9961,
    "Fe": 55.845,
    "Br": 79.904,
    "Pd": 106.42,
    "Ag": 107.8682,
    "Cs": 132.90545196,
    "Pt": 195.084,
    "Au": 196.966570,
}
"""Standard atomic masses, conventional value where the standard one is a range. [g/mol]

Source: IUPAC Commission on Isotopic Abundances and Atomic Weights, Standard atomic
weights 2021 (Prohaska et al., Pure Appl. Chem. 94, 573-600, 2022).
"""

_PART = re.compile(r"([A-Z][a-z]?|\(|\))(\d*)")


def atoms(formula: str) -> dict[str, int]:
    """Count the atoms of a formula.

    Parameters
    ----------
    formula : str
        Such as `Fe2(C2O4)3.6H2O`: parentheses, and water of crystallization after a
        point.

    Returns
    -------
    dict of str to int

    Raises
    ------
    InvalidValueError
        If it is not a formula or has an element that is not in the table.
    """
    total: dict[str, int] = {}
    for part in formula.split("."):
        lead = re.match(r"\d+", part)
        times = int(lead[0]) if lead else 1
        rest = part[lead.end() :] if lead else part
        for element, count in _group(rest, formula).items():
            total[element] = total.get(element, 0) + times * count
    return total


def molar_mass(formula: str) -> float:
    """Molar mass of a formula from the atomic masses. [g/mol].

    Raises
    ------
    InvalidValueError
        As `atoms`.
    """
    return sum(
        ATOMIC_MASS_G_PER_MOL[element] * count
        for element, count in atoms(formula).items()
    )


def mass_share(formula: str, element: str) -> float:
    """Share of an element in the mass of a formula, 0..1."""
    count = atoms(formula).get(element, 0)
    return count * ATOMIC_MASS_G_PER_MOL[element] / molar_mass(formula)


def _group(text: str, formula: str) -> dict[str, int]:
    """Count within one part, from left to right with a stack of open parentheses."""
    stack: list[dict[str, int]] = [{}]
    place = 0
    while place < len(text):
        match = _PART.match(text, place)
        if not match:
            raise _not_a_formula(formula)
        place = match.end()
        symbol, times = match[1], int(match[2] or 1)
        if symbol == "(":
            stack.append({})
            continue
        inner = stack.pop() if symbol == ")" else {symbol: 1}
        if not stack or not set(inner) <= set(ATOMIC_MASS_G_PER_MOL):
            raise _not_a_formula(formula)
        for element, count in inner.items():
            stack[-1][element] = stack[-1].get(element, 0) + times * count
    if len(stack) != 1 or not stack[0]:
        raise _not_a_formula(formula)
    return stack[0]


def _not_a_formula(formula: str) -> InvalidValueError:
    return InvalidValueError(
        f"{formula!r} is not a formula of elements in our table",
        where="formula",
        fix="Write it like Fe2(C2O4)3.6H2O.",
    )
