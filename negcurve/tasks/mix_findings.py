"""What a mix leaves to ask or to watch."""

from collections.abc import Sequence

from negcurve.darkroom.coating import Pour
from negcurve.darkroom.processes import Process
from negcurve.darkroom.recipes import Bottle
from negcurve.darkroom.substances import SUBSTANCES, hydrates
from negcurve.tasks.mix_values import MixOptions
from negcurve.values import Finding

FEW_DROPS = 12
"""Below this a drop left in the cup is a tenth of the mix (Mathias)."""


def mix_findings(
    options: MixOptions, work: Process, mixed: Sequence[Pour], agents: Sequence[Bottle]
) -> list[Finding]:
    """Say what the reader of a mix should know."""
    found = []
    if options.drops_per_ml is None:
        found.append(
            Finding(
                severity="note",
                where="drops",
                what="20 drops per ml is a convention; droppers give 14 to 50",
                fix="Count your drops to 10 ml and give --drops-per-ml.",
            )
        )
    if len(agents) > 1:
        found.append(_which_form(agents))
    found += _about_forms(options, mixed)
    found += _about_platinum(options, mixed)
    total = sum(pour.drops for pour in mixed)
    if total < FEW_DROPS:
        found.append(
            Finding(
                severity="note",
                where="mix",
                what=f"only {total} drops: one left in the cup is "
                f"{100 / total:.0f} % of them",
                fix="Weigh tool and cup before and after to learn your own loss.",
            )
        )
    if work.key in ("salt", "albumen", "carbon"):
        found.append(_only_sensitizer(work))
    return found


def _which_form(agents: Sequence[Bottle]) -> Finding:
    names = " or ".join(each.contents[0].substance for each in agents)
    return Finding(
        severity="warning",
        where="contrast agent",
        what=f"does its strength count {names}? They differ in amount",
        fix="Read the label and give --agent-form.",
    )


def _about_forms(options: MixOptions, mixed: Sequence[Pour]) -> list[Finding]:
    found = []
    for pour in mixed:
        bottle = pour.bottle
        if bottle.role != "iron" or bottle.name in options.forms or not bottle.contents:
            continue
        form = SUBSTANCES[bottle.contents[0].substance]
        others = hydrates(form.family)
        if form.iron_share is not None:
            low, high = form.iron_share
            found.append(
                Finding(
                    severity="note",
                    where=bottle.name,
                    what=f"iron content is not fixed: {100 * low:.0f} to "
                    f"{100 * high:.0f} %",
                    fix="Keep the figure on the label of each lot.",
                )
            )
        elif len(others) > 1:
            most = others[-1].molar_mass_g_per_mol
            less = 1 - form.molar_mass_g_per_mol / most
            found.append(
                Finding(
                    severity="note",
                    where=bottle.name,
                    what=f"strength counted as {form.name}; as {others[-1].name} it "
                    f"holds {100 * less:.0f} % less",
                    fix="Read the label and give --form.",
                )
            )
    return found


def _about_platinum(options: MixOptions, mixed: Sequence[Pour]) -> list[Finding]:
    metals = {p.bottle.name: p.volume_ml for p in mixed if p.bottle.role == "metal"}
    platinum = metals.get("platinum", 0.0)
    if options.agent != "hexachloroplatinate" or platinum <= sum(metals.values()) / 2:
        return []
    return [
        Finding(
            severity="warning",
            where="contrast agent",
            what="hexachloroplatinate is used in mixes rich in palladium only "
            "[unverified]",
            fix="Use chlorate, or dichromate in the developer.",
        )
    ]


def _only_sensitizer(work: Process) -> Finding:
    what = {
        "salt": "counts the silver only; the paper is salted beforehand",
        "albumen": "counts brushed silver only; floating needs a tray of it",
        "carbon": "counts a brushed sensitizer; tissue soaks up more",
    }
    return Finding(severity="note", where=work.name, what=what[work.key])
