"""`negcurve read --film`: what is printed of a film that was looked at."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from negcurve.cli.output import print_result, progress_bar
from negcurve.errors import InvalidValueError

if TYPE_CHECKING:
    from negcurve.tasks.read_film import FilmResult


def read_film_scan(
    inputs: list[Path], *, ink_side: str | None, as_json: bool, **options: Any
) -> None:
    """Look at one film and print what was seen."""
    if len(inputs) != 1:
        raise InvalidValueError(
            f"{len(inputs)} files were named", where="--film", fix="Name one scan."
        )
    if ink_side is None:
        raise InvalidValueError(
            "does not tell how the film lay on the glass",
            where="--film",
            fix="Give --ink-side down where the inked side touched the glass, else "
            "--ink-side up.",
        )
    from negcurve.tasks.read_film import FilmOptions, film

    asked = FilmOptions(
        scan=inputs[0],
        ink_side=ink_side,  # type: ignore[arg-type]  # checked by the task
        **options,
    )
    with progress_bar() as progress:
        result = film(asked, progress=progress)
    print_result(
        "film-scan",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _text(result: "FilmResult") -> str:
    film = result.film
    kind = "strip" if film.layout.is_strip else "target"
    density, streaks = film.steps.density, film.streaks
    size = "its size is not known: the scan states no resolution"
    if film.scales is not None:
        size = f"printed at {film.scales[0]:.2%} of its width"
        if not film.layout.is_strip:
            size += f" and {film.scales[1]:.2%} of its height"
    reads = "backwards" if film.mirrored else "right"
    side = "as it must" if film.right_side else "the wrong way round"
    lines = [
        f"{film.source}: film with {kind} {film.layout.identity_text}",
        size,
        f"lettering reads {reads} with the ink side {film.ink_side}: {side}",
        f"{len(density)} levels, full ink {density.max() - density.min():.2f} D darker "
        "than clear film to this scanner",
        f"fine lines: {sum(each.sure for each in streaks.lines) or 'none'} found",
        f"verdict: {film.verdict}",
    ]
    if result.output is not None:
        lines.append(f"wrote {result.output}")
    return "\n".join(lines)


def _plain(result: "FilmResult") -> dict[str, Any]:
    film = result.film
    return {
        "output": result.output,
        "source": film.source,
        "target": film.layout.identity_text,
        "strip": film.layout.is_strip,
        "scales": film.scales,
        "mirrored": film.mirrored,
        "ink_side": film.ink_side,
        "right_side": film.right_side,
        "levels": {
            "negative_level": film.steps.level,
            "film_density": film.steps.density,
            "standard_error": film.steps.error,
        },
        "streaks": [
            {
                "direction": each.direction,
                "place_mm": each.place_mm,
                "depth": each.depth,
                "patches": each.patches,
                "crossed": each.crossed,
            }
            for each in film.streaks.lines
        ],
        "streak_limit": film.streaks.limit,
        "verdict": film.verdict,
    }
