"""A tablet test as plain values for machines."""

from typing import Any

from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.strip_findings import scale_by_shape
from negcurve.tasks.tablet_card import tablet_card
from negcurve.tasks.tablet_values import TabletResult


def tablet_plain(result: TabletResult) -> dict[str, Any]:
    """Return a tablet test as plain values."""
    options, found = result.options, result.range
    plain: dict[str, Any] = {
        "tablet": result.tablet.name,
        "tablet_nominal": result.tablet.nominal,
        "film_over": options.film_over,
        "film_density": options.film_density,
        "black_share": options.black_share,
        "test_time_s": result.test_time_s,
        "black_time_s": _plain(result.black_time_s),
        "eye_black_time_s": result.eye_black_time_s,
        "eye_scale": _plain(result.eye_scale),
        "lamp_gradient": _plain(result.lamp_gradient),
        "process": None if result.process is None else result.process.key,
        "agent_dose": _plain(result.dose),
        "negative": None if result.fit is None else dict(vars(result.fit)),
        "matches": [
            {**vars(match), "printing_density": _plain(match.printing_density)}
            for match in result.matches
        ],
        "second_sheet": None if result.second is None else dict(vars(result.second)),
        "cautions": [each.as_plain() for each in tablet_card(result).cautions],
    }
    if result.curve is not None and found is not None:
        plain |= {
            "d_min": _plain(result.curve.d_min),
            "d_max": _plain(result.curve.d_max),
            "exposure_scale": _plain(found.exposure_scale),
            "exposure_scale_by_shape": scale_by_shape(result.curve),
            "average_gradient": _plain(found.average_gradient),
            "iso_range": found.iso_range,
            "scale_as_eye_reads": _plain(found.eye_scale),
            "noise": result.curve.noise,
            "ends": None if result.ends is None else dict(vars(result.ends)),
            "steps": {
                "step": result.step,
                "log_exposure": result.curve.log_exposure,
                "density": result.curve.density,
                "residual": result.curve.residual,
            },
        }
    return plain


def _plain(estimate: Estimate | None) -> dict[str, float] | None:
    return None if estimate is None else estimate.as_plain()
