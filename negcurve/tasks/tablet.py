"""From the print of a step tablet to curve, exposure scale and the time for black."""

from dataclasses import replace
from typing import Any

import numpy as np

from negcurve.darkroom.curve_fitting import fit_curve
from negcurve.darkroom.exposure import stops_from_factor
from negcurve.darkroom.first_print import (
    black_time,
    ends_seen,
    time_for_black,
)
from negcurve.darkroom.iso6846 import eye_read_scale, paper_range
from negcurve.darkroom.matching import match_patches, second_sheet
from negcurve.darkroom.negative_range import fit_agent_series, match_range
from negcurve.darkroom.processes import check_extrapolation, process
from negcurve.darkroom.quantities import seconds
from negcurve.darkroom.strip_findings import curve_findings, end_findings
from negcurve.darkroom.tablet import Strip, place_along
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.number_columns import read_columns
from negcurve.files.safe import write_text
from negcurve.tasks.page_file import check_page
from negcurve.tasks.read_tablet import tablet_named
from negcurve.tasks.tablet_card import tablet_card
from negcurve.tasks.tablet_input import (
    from_readings,
    on_readings,
    strip_given,
    without,
)
from negcurve.tasks.tablet_values import TabletOptions, TabletResult
from negcurve.values import Finding, Progress, no_progress


def tablet(options: TabletOptions, *, progress: Progress = no_progress) -> TabletResult:
    """Read a printed step tablet.

    Parameters
    ----------
    options : TabletOptions
    progress : Progress

    Returns
    -------
    TabletResult

    Raises
    ------
    InvalidValueError
        If an option is out of range or none of the three inputs is given.
    ReadingsError
        If the strip cannot be used.
    FileError
        If a file cannot be read or written.
    """
    inputs = [options.strip, options.turned, options.patches, options.series]
    check_page(options.page, overwrite=options.overwrite, inputs=inputs)
    progress("reading", 0.0)
    found: dict[str, Any] = {"findings": ()}
    first = _first_strip(options, found)
    options = found["options"]
    if options.process is not None:
        found["process"] = process(options.process)
    if options.time is not None:
        found["test_time_s"] = seconds(options.time)
    if first is not None:
        _add_curve(found, first)
    _add_eye(found)
    if first is None and "eye_scale" not in found and options.series is None:
        raise InvalidValueError(
            "no strip was given",
            where="strip",
            fix="Name a CSV with step,density, type --densities, or type the steps "
            "that you see: --merged and --last.",
        )
    _add_fit(found)
    progress("reading", 1.0)
    result = TabletResult(**found)
    if options.page is not None:
        write_text(
            options.page, tablet_card(result).page(), overwrite=options.overwrite
        )
    return result


def _first_strip(options: TabletOptions, found: dict[str, Any]) -> Strip | None:
    """Read the first strip; a readings file brings its own tablet along."""
    rows = on_readings(options.strip)
    if rows is not None:
        found["tablet"], strip = from_readings(rows)
        found["options"] = replace(options, film_over=rows.tablet_over_film)
        return strip
    found["tablet"], found["options"] = tablet_named(options.tablet), options
    given, found["findings"] = strip_given(
        options,
        found["tablet"],
        options.strip,
        typed=options.densities,
        box=options.strip_box,
    )
    return given


def _check_unexposed(options: TabletOptions) -> None:
    if options.unexposed is not None and not 0 <= options.unexposed <= 1:
        raise InvalidValueError(
            f"{options.unexposed:g} is no density of unexposed paper",
            where="--unexposed",
            fix="Give the print density of the coated, unexposed border: 0.08, say.",
        )


def _add_curve(found: dict[str, Any], first: Strip) -> None:
    options, wedge = found["options"], found["tablet"]
    _check_unexposed(options)
    step, density = without(first, options.drop).by_step(wedge)
    place = None
    second, about = strip_given(
        options,
        wedge,
        options.turned,
        typed=options.turned_densities,
        box=options.turned_box,
    )
    found["findings"] += about
    if second is not None:
        along = place_along(step, wedge)
        more, more_density = without(second, options.drop).by_step(wedge)
        place = np.concatenate([along, -place_along(more, wedge)])
        step = np.concatenate([step, more])
        density = np.concatenate([density, more_density])
    curve = fit_curve(
        [-wedge.at(int(each)) for each in step],
        density,
        place=place,
        unexposed=options.unexposed,
    )
    ends = ends_seen(curve, wedge, black_share=options.black_share)
    found.update(curve=curve, step=step, range=paper_range(curve), ends=ends)
    if place is not None:
        found["lamp_gradient"] = curve.parameter(4)
    found["findings"] += end_findings(curve, ends) + curve_findings(curve)
    _add_black_time(found)
    _add_matches(found)


def _film(options: TabletOptions) -> tuple[float, float]:
    """Density of the negative's film, and of film that lay over the tablet."""
    film = options.film_density or 0.0
    if not 0 <= film <= 1.5:
        raise InvalidValueError(
            f"clear film of density {film:g} is not likely",
            where="film density",
            fix="Give what clear film alone holds back: 0.05 to 0.25 is usual.",
        )
    return film, film if options.film_over else 0.0


def _add_black_time(found: dict[str, Any]) -> None:
    options, test_s = found["options"], found.get("test_time_s")
    film, over = _film(options)
    if test_s is None:
        return
    time = black_time(
        found["curve"],
        test_time_s=test_s,
        black_share=options.black_share,
        film_density=film,
        film_over_tablet=over,
    )
    _check_stops(found, time.value)
    found["black_time_s"] = time
    if not options.film_over and options.film_density is None:
        found["findings"] += (_film_unknown(),)


def _check_stops(found: dict[str, Any], time_s: float) -> None:
    change = stops_from_factor(time_s / found["test_time_s"])
    check_extrapolation(found.get("process"), change)
    if found.get("process") is None and abs(change) > 1:
        found["findings"] += (
            Finding(
                severity="note",
                where="time for black",
                what=f"lies {change:+.1f} stops from the test. A developed-out process "
                "carries that; a process that prints out shields itself",
                fix="Name it with --process, or test again nearer to that time.",
            ),
        )


def _film_unknown() -> Finding:
    return Finding(
        severity="warning",
        where="time for black",
        what="holds without film: no film lay over the tablet and the density of the "
        "negative's clear film is not given; at 0.12 D it is 1.32 times as long",
        fix="Lay clear film over the tablet (--film-over), or give --film-density.",
    )


def _add_eye(found: dict[str, Any]) -> None:
    options, wedge = found["options"], found["tablet"]
    merged, last = options.merged_step, options.last_step
    if merged is not None and last is not None:
        found["eye_scale"] = eye_read_scale(wedge, merged_step=merged, last_step=last)
    elif last is not None:
        raise InvalidValueError(
            "needs the merged step as well", where="--last", fix="Add --merged."
        )
    elif merged is not None and "curve" not in found and options.time is None:
        raise InvalidValueError(
            "gives no exposure scale by itself",
            where="--merged",
            fix="Add --last for the scale, or --time for the time for black.",
        )
    test_s = found.get("test_time_s")
    if merged is None or test_s is None:
        return
    film, over = _film(options)
    time = time_for_black(
        test_s,
        step_density=wedge.at(merged),
        film_density=film,
        film_over_tablet=over,
    )
    if "black_time_s" not in found:
        _check_stops(found, time)
        if not options.film_over and options.film_density is None:
            found["findings"] += (_film_unknown(),)
    found["eye_black_time_s"] = time


def _add_matches(found: dict[str, Any]) -> None:
    options = found["options"]
    if options.patches is None:
        return
    table = read_columns(options.patches, numbers=("density",), texts=("patch",))
    matches = match_patches(
        found["curve"],
        patch=table.texts["patch"],
        density=table.numbers["density"],
    )
    found.update(matches=matches, second=second_sheet(found["curve"], matches))


def _add_fit(found: dict[str, Any]) -> None:
    options, scale = found["options"], _scale(found)
    if options.negative is not None:
        if scale is None:
            raise InvalidValueError(
                "there is no exposure scale to compare with",
                where="--negative",
                fix="Give the strip's densities as well, or both --merged and --last.",
            )
        thinnest, densest = options.negative
        found["fit"] = match_range(
            scale, thinnest=thinnest, densest=densest, kind=options.negative_kind
        )
    if options.series is None:
        if options.wanted_scale is not None:
            raise InvalidValueError(
                "no series says what dose gives which scale",
                where="--wanted-scale",
                fix="Give your own tests with --series, CSV dose,exposure_scale.",
            )
        return
    table = read_columns(options.series, numbers=("dose", "exposure_scale"))
    series = fit_agent_series(table.numbers["dose"], table.numbers["exposure_scale"])
    found["series"] = series
    wanted = options.wanted_scale
    if wanted is None and options.negative is not None:
        wanted = options.negative[1] - options.negative[0]
    if wanted is not None:
        try:
            found["dose"] = series.dose_for(wanted)
        except ReadingsError as error:
            found["findings"] += (
                Finding(
                    severity="warning",
                    where=error.where,
                    what=error.what,
                    fix=error.fix,
                ),
            )


def _scale(found: dict[str, Any]) -> float | None:
    if "range" in found:
        return float(found["range"].exposure_scale.value)
    return float(found["eye_scale"].value) if "eye_scale" in found else None
