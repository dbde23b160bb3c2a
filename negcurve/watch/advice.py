"""What a change of the process usually means, and what to do about it, in words.

Knows causes and sentences; finding the change is left to `judgement`.
"""

from negcurve.values import Finding
from negcurve.watch.control_chart import ENOUGH

_CAUSES: dict[str, tuple[str, ...]] = {
    "darker": (
        "time or dose set too long",
        "a new or warmer lamp, or one nearer to the print",
        "other glass or film of less base density",
        "more humid paper, or a fresher sensitizer",
    ),
    "lighter": (
        "time or dose set too short, or the lamp not warmed up",
        "rows of lamps out or worked loose; an ageing lamp",
        "dirty glass, or film of more base density",
        "drier paper, or an older sensitizer",
    ),
    "contrast": (
        "contrast agent, developer or its temperature",
        "humidity of the paper when coated and exposed",
        "another batch of paper, sensitizer, ink or film",
        "printer settings or a blocked nozzle",
    ),
    "d_max": (
        "less sensitizer on the paper, or coated unevenly",
        "an old sensitizer, or paper too dry",
        "developer spent, or development cut short",
    ),
    "white": (
        "clearing baths spent, too short or too few",
        "stray UV or daylight on the coated paper",
        "sensitizer too old, or dried too hot",
        "another batch of paper",
    ),
    "several": (
        "another batch of paper, sensitizer, ink or film",
        "humidity and temperature far from those of the calibration",
        "developer or clearing bath spent",
    ),
}
"""Likely causes, most likely first. Common practice, no source."""


def likely_causes(part: str, amount: float) -> tuple[str, ...]:
    """Return the likely causes of a change, most likely first."""
    if part == "exposure":
        return _CAUSES["darker" if amount > 0 else "lighter"]
    return _CAUSES.get(part, ())


def next_step(kind: str, part: str, amount: float, factor: float | None) -> str:
    """Return what to do next, in a sentence or two."""
    if kind == "in control":
        return "Go on printing; keep a strip with every session."
    if kind == "unreadable":
        return (
            "Read the strip again. If it stays so, look for a stain, dust or the "
            "wrong target on it."
        )
    if kind == "exposure":
        time = (
            f"Multiply the exposure time by {factor:.2f} if nothing is found."
            if factor
            else f"Expose {'less' if amount > 0 else 'longer'} if nothing is found; by "
            "how much is not known without film density (see `negcurve film`)."
        )
        return f"Check the lamp and the dose first. {time}"
    if kind == "white":
        return (
            "Renew the clearing baths and print another strip before the table is "
            "changed."
        )
    if part == "white":
        return (
            "Nothing is spoiled. If it stays so, recalibrate: the paper may be of "
            "another batch."
        )
    if part == "d_max":
        return "Coat and develop another strip with care; if it repeats, recalibrate."
    return (
        "Recalibrate: print a new target and solve it. Time alone will not mend this."
    )


_WORDS = {
    "exposure": "exposure is off: mid-tone",
    "contrast": "the shape has changed: contrast",
    "d_max": "the shape has changed: D-max",
    "white": "white is stained: D-min",
}


def findings_of(
    kind: str,
    part: str,
    amount: float,
    error: float,
    advice: str,
    *,
    provisional: bool,
    noise: float,
) -> tuple[Finding, ...]:
    """Put a judgement into findings: what, how sure, what to do."""
    found = []
    if kind == "unreadable":
        found.append(
            Finding(
                severity="warning",
                where="strip",
                what=(
                    f"its patches scatter by {noise:.3f} D about any change of "
                    "exposure, contrast, D-max or white"
                ),
                fix=advice,
            )
        )
    elif kind != "in control":
        found.append(
            Finding(
                severity="warning",
                where="strip",
                what=_said(part, amount, error),
                fix=advice,
            )
        )
    if provisional:
        found.append(
            Finding(
                severity="note",
                where="limits",
                what=(
                    f"provisional until there are {ENOUGH} sessions in control: common "
                    "practice, no source"
                ),
            )
        )
    return tuple(found)


def _said(part: str, amount: float, error: float) -> str:
    if part == "several":
        return "the shape has changed: several of exposure, contrast, D-max and white"
    if part == "contrast":
        word = "higher" if amount > 0 else "lower"
        return (
            f"{_WORDS[part]} {abs(amount):.0%} {word} than usual (standard error "
            f"{error:.0%})"
        )
    word = "darker" if amount > 0 else "lighter"
    subject = (
        _WORDS[part] if part != "white" or amount > 0 else "white has changed: D-min"
    )
    return (
        f"{subject} {abs(amount):.3f} D {word} than usual (standard error {error:.3f})"
    )
