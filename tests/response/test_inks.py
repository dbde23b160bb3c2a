"""Mixtures of an invented film, whose densities to the lamp are known, are ranked."""

import json
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.film_json import write_film
from negcurve.files.readings_csv import write_readings
from negcurve.readings import Readings
from negcurve.response.film import FilmData
from negcurve.response.inks import rank_inks
from negcurve.response.solving import solve
from negcurve.target.ink import BLACK, CLEAR, Ink
from negcurve.target.mixtures import ink_mixtures
from negcurve.tasks.film import FilmOptions, film

D_MIN, D_MAX = 0.08, 1.45


def held_back(ink):
    """Printing density of a mixture: yellow most, cyan hardly, the three together less.

    Black at full ink holds back 2.0; pure yellow 1.7 for a third of the ink.
    """
    cyan, magenta, yellow = (1 - np.array(ink.codes) / 255).tolist()
    most = 0.3 * cyan + 0.8 * magenta + 1.7 * yellow
    return most - 0.8 * min(cyan, magenta, yellow)


def paper(log_exposure):
    """An S-shaped curve between D-min and D-max."""
    share = 1 / (1 + np.exp(-4.5 * (np.asarray(log_exposure) + 1.0)))
    return D_MIN + (D_MAX - D_MIN) * share


def printed(
    *, stops=0.0, noise=0.008, slope=0.0, tablet=False, over_film=True, seed=1, count=48
):
    """Readings of a sheet of mixtures; light falls off across it by `slope`, log10."""
    rng = np.random.default_rng(seed)
    inks = [ink for ink in ink_mixtures(count) for _ in range(2)]
    places = rng.permutation(len(inks))
    x, y = 20.0 + 15 * (places % 10), 20.0 + 20 * (places // 10)
    light = 0.30103 * stops + slope * (x - x.mean()) / 75
    density = paper(light - np.array([held_back(ink) for ink in inks]))
    rows = {
        "negative_level": np.zeros(len(inks)),
        "density": density,
        "x_mm": x,
        "y_mm": y,
        "tablet_density": np.full(len(inks), np.nan),
    }
    ink = tuple(each.text for each in inks)
    if tablet:
        steps = np.arange(31) * 0.1
        base = 0.0 if over_film else -0.1  # without film the light is stronger
        more = {
            "negative_level": np.ones(31),
            "density": paper(0.30103 * stops - steps - base),
            "x_mm": np.linspace(20, 160, 31),
            "y_mm": np.full(31, 240.0),
            "tablet_density": steps,
        }
        rows = {name: np.append(rows[name], more[name]) for name in rows}
        ink += ("",) * 31
    rows["density"] = rows["density"] + rng.normal(0, noise, len(ink))
    return Readings(
        **rows,
        ink=ink,
        patch=tuple(str(place + 1) for place in range(len(ink))),
        source="mixtures.csv",
        tablet_over_film=over_film,
        printer_path={"mode": "rgb", "bits": "16", "ppi": "360", "profile": "none"},
    )


def least_that_does(tolerance):
    """By the truth: least ink that prints within the tolerance of the lightest."""
    inks = ink_mixtures(48)
    density = {ink: float(paper(-held_back(ink))) for ink in inks}
    best = min(density.values())
    return min(
        (ink.amount for ink in inks if density[ink] <= best + tolerance),
    )


@pytest.mark.parametrize("seed", range(6))
def test_the_least_ink_that_holds_back_most_is_found(seed):
    ranking = rank_inks(printed(seed=seed))
    best = ranking.best
    lightest = min(float(paper(-held_back(ink))) for ink in ink_mixtures(48))
    true = float(paper(-held_back(best.ink)))
    # What it says of itself: within its tolerance, and no less ink does as well
    # beyond what chance may hide.
    assert true <= lightest + ranking.tolerance + 3 * best.error
    assert best.ink.amount <= least_that_does(0.0)
    assert best.ink.amount >= least_that_does(ranking.tolerance + 3 * best.error)
    assert ranking.inks[0].density == min(each.density for each in ranking.inks)
    assert {each.patches for each in ranking.inks} == {2}
    assert "is not known" in str(ranking.findings[-1])


def test_the_noise_of_a_patch_is_told_from_repeats():
    errors = [rank_inks(printed(seed=seed)).best.error for seed in range(30)]
    assert np.mean(errors) == pytest.approx(0.008 / np.sqrt(2), rel=0.05)


def test_uneven_light_is_taken_off():
    truth = {ink.text: float(paper(-held_back(ink))) for ink in ink_mixtures(48)}

    def off(**more):
        ranking = rank_inks(printed(slope=0.06, noise=0.003, **more))
        return np.array(
            [each.density - truth[each.ink.text] for each in ranking.inks]
        ).std()

    placed = off()
    readings = printed(slope=0.06, noise=0.003)
    unknown = np.full(len(readings), np.nan)
    blind = rank_inks(readings.replaced(x_mm=unknown, y_mm=unknown))
    bare = np.array([each.density - truth[each.ink.text] for each in blind.inks]).std()
    assert placed < 0.5 * bare
    assert placed < 0.012


@pytest.mark.parametrize("over_film", [True, False])
def test_a_tablet_tells_what_each_mixture_holds_back(over_film):
    ranking = rank_inks(printed(tablet=True, noise=0.005, over_film=over_film))
    assert ranking.known_by == "tablet"
    assert ranking.from_clear == over_film
    base = 0.0 if over_film else 0.1
    within = [each for each in ranking.inks if each.held_back.limit == "within"]
    assert len(within) > 25
    off = [
        (each.held_back.density - held_back(each.ink) - base) / each.held_back.error
        for each in within
    ]
    assert np.abs(off).max() < 4.5
    assert 0.5 < np.std(off) < 1.5
    for each in ranking.inks:
        if each.held_back.limit == "at least":
            assert held_back(each.ink) + base > each.held_back.density - 0.1
        if each.held_back.limit == "at most":
            assert held_back(each.ink) + base < each.held_back.density + 0.1


def black_film(mode="rgb"):
    level = np.linspace(0, 1, 101)
    codes = np.rint(255 * level).astype(int)
    density = [held_back(Ink(red=c, green=c, blue=c)) for c in codes.tolist()]
    return FilmData(
        level_nodes=level,
        density_nodes=np.minimum.accumulate(density),
        error_nodes=np.full(101, 0.01),
        printer_path={"mode": mode},
    )


def test_greys_of_known_film_stand_in_for_a_tablet():
    ranking = rank_inks(printed(noise=0.005), film=black_film())
    assert ranking.known_by == "film"
    assert not ranking.findings
    within = [each for each in ranking.inks if each.held_back.limit == "within"]
    assert len(within) > 20
    for each in within:
        assert each.held_back.density == pytest.approx(held_back(each.ink), abs=0.12)
    grey = rank_inks(printed(), film=black_film("grey"))
    assert "measured on a grey target" in str(grey.findings[0])


def test_black_is_compared_with_the_best():
    # Five steps more light: only full yellow with magenta stays light.
    strong = rank_inks(printed(stops=2.5, noise=0.003))
    assert strong.black is not None
    assert np.isnan(strong.black_amount)
    assert strong.best.ink.amount < 1
    weak = rank_inks(printed(stops=-1, noise=0.003))
    assert weak.best.ink.amount < weak.black_amount <= 1


def test_a_short_exposure_is_said_to_tell_little():
    ranking = rank_inks(printed(stops=-2.5, noise=0.003))
    assert "so the paper does not tell which holds back most" in str(
        ranking.findings[0]
    )


def test_flagged_patches_are_left_out():
    readings = printed()
    flags = [frozenset()] * len(readings)
    spoilt = np.array(readings.density)
    spoilt[7] += 1.0
    flags[7] = frozenset({"covered"})
    ranking = rank_inks(readings.replaced(density=spoilt, flags=tuple(flags)))
    name = readings.ink[7]
    (one,) = (each for each in ranking.inks if each.ink.text == name)
    assert one.patches == 1
    (same,) = (each for each in rank_inks(printed()).inks if each.ink.text == name)
    assert one.density == pytest.approx(same.density, abs=0.03)


def test_what_cannot_be_ranked_is_refused():
    readings = printed()
    alike = readings.replaced(density=np.full(len(readings), 0.1))
    with pytest.raises(ReadingsError, match="all mixtures print alike"):
        rank_inks(alike)
    with pytest.raises(ReadingsError, match="was read wet"):
        rank_inks(readings.replaced(print_state="wet"))
    with pytest.raises(ReadingsError, match="is no print of ink mixtures"):
        rank_inks(readings.replaced(ink=("",) * len(readings)))
    first = readings.chosen(np.arange(0, len(readings), 2))
    with pytest.raises(ReadingsError, match="every mixture once"):
        rank_inks(first)


def test_a_print_of_mixtures_has_no_table():
    with pytest.raises(ReadingsError, match="no response to level"):
        solve([printed()])


def test_anchors_are_among_them():
    inks = [each.ink for each in rank_inks(printed()).inks]
    assert BLACK in inks
    assert inks[-1].amount <= 0.35
    assert CLEAR in inks


def test_the_film_command_ranks_mixtures(tmp_path):
    write_readings(printed(tablet=True), tmp_path / "m.csv")
    write_film(black_film(), tmp_path / "film.json")

    def run(*words):
        code = "from negcurve.cli import main; main()"
        return subprocess.run(
            [sys.executable, "-c", code, "film", *words],
            capture_output=True,
            text=True,
            check=False,
            cwd=tmp_path,
        )

    outcome = run("m.csv", "-o", "ranked.csv")
    assert outcome.returncode == 0, outcome.stderr
    best = rank_inks(printed(tablet=True)).best.ink.text
    assert f"next: negcurve target target.tif --ink {best}\n" in outcome.stdout
    assert "printing density by the tablet, counted from clear film" in outcome.stdout
    assert "efficient" in outcome.stdout
    lines = (tmp_path / "ranked.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 49
    assert lines[0].startswith("ink,amount,density,")
    plain = json.loads(run("m.csv", "--json").stdout)
    assert plain["schema"] == "negcurve/inks/1"
    assert plain["result"]["best"] == best
    assert run("m.csv", "--film", "film.json").returncode == 0
    refused = run("m.csv", "-o", "film2.json")
    assert refused.returncode == 2
    assert "ink mixtures give no film data" in refused.stderr
    for changes, says in (
        ({"plot": tmp_path / "p.png"}, "is not drawn"),
        ({"readings": [tmp_path / "m.csv"] * 2}, "one of them of ink mixtures"),
    ):
        usual = FilmOptions(readings=[tmp_path / "m.csv"])
        with pytest.raises(InvalidValueError, match=says):
            film(replace(usual, **changes))
