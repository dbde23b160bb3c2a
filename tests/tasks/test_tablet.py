"""From files of readings to the answers of a tablet test."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.tablet import nominal_tablet
from negcurve.density import lightness_from_density
from negcurve.errors import FileError, InvalidValueError, ReadingsError
from negcurve.files.readings_csv import write_readings
from negcurve.readings import Readings
from negcurve.tasks.tablet import tablet
from negcurve.tasks.tablet_card import tablet_card
from negcurve.tasks.tablet_plain import tablet_plain
from negcurve.tasks.tablet_values import TabletOptions
from tests.darkroom.strips import place, printed

X = -nominal_tablet("31").density


def strip_file(
    folder: Path, name: str = "strip.csv", *, column="density", **paper
) -> Path:
    density = printed(X, **{"noise": 0.01, **paper})
    values = density if column == "density" else lightness_from_density(density)
    rows = [f"{n},{value:.3f}" for n, value in enumerate(values, start=1)]
    path = folder / name
    path.write_text("\n".join([f"step,{column}", *rows]) + "\n", encoding="utf-8")
    return path


def test_a_strip_from_a_file(tmp_path: Path) -> None:
    found = tablet(TabletOptions(strip=strip_file(tmp_path), time="8m", film_over=True))
    assert found.range is not None
    assert found.range.exposure_scale.low < 1.8 < found.range.exposure_scale.high
    assert found.black_time_s is not None
    exact = 480 * 10 ** place(0.98, scale=1.8)
    assert found.black_time_s.low < exact < found.black_time_s.high
    assert found.exposure_scale == found.range.exposure_scale.value


def test_typed_lightness_and_repeats_agree_with_the_file(tmp_path: Path) -> None:
    density = np.round(printed(X, noise=0.01), 3)
    typed = tablet(TabletOptions(densities=tuple(density)))
    plain = tablet(TabletOptions(strip=strip_file(tmp_path)))
    assert typed.range == plain.range
    light = tablet(
        TabletOptions(strip=strip_file(tmp_path, "l.csv", column="lightness"))
    )
    assert light.range is not None
    assert plain.range is not None
    assert_allclose(
        light.range.exposure_scale.value, plain.range.exposure_scale.value, atol=5e-3
    )
    rows = [f"{n},{d - 0.01}\n{n},{d + 0.01}" for n, d in enumerate(density, start=1)]
    twice = tmp_path / "twice.csv"
    twice.write_text("patch,density\n" + "\n".join(rows), encoding="utf-8")
    assert_allclose(
        tablet(TabletOptions(strip=twice)).range.exposure_scale.value,
        plain.range.exposure_scale.value,
        atol=1e-6,
    )


def test_a_calibrated_tablet(tmp_path: Path) -> None:
    density = nominal_tablet("31").density * 1.03 + 0.01
    wedge = tmp_path / "wedge.csv"
    rows = [f"{n},{value:.4f}" for n, value in enumerate(density, start=1)]
    wedge.write_text("step,density\n" + "\n".join(rows), encoding="utf-8")
    prints = printed(-density)
    measured = tablet(TabletOptions(densities=tuple(prints), tablet=wedge))
    nominal = tablet(TabletOptions(densities=tuple(prints)))
    assert measured.range is not None
    assert nominal.range is not None
    assert_allclose(measured.range.exposure_scale.value, 1.8, atol=2e-3)
    assert_allclose(nominal.range.exposure_scale.value, 1.8 / 1.03, atol=2e-3)
    assert not measured.tablet.nominal


def test_a_tablet_by_steps_and_increment() -> None:
    prints = printed(-0.05 - 0.12 * np.arange(25))
    found = tablet(TabletOptions(densities=tuple(prints), tablet="25x0.12"))
    assert found.range is not None
    assert_allclose(found.range.exposure_scale.value, 1.8, atol=3e-3)


def test_film_over_the_tablet_drops_out(tmp_path: Path) -> None:
    strip = strip_file(tmp_path)
    options = TabletOptions(strip=strip, time="480")
    bare = tablet(options)
    added = tablet(replace(options, film_density=0.12))
    over = tablet(replace(options, film_density=0.12, film_over=True))
    assert_allclose(added.black_time_s.value / bare.black_time_s.value, 10**0.12)
    assert_allclose(over.black_time_s.value, bare.black_time_s.value)
    assert any("holds without film" in each.what for each in bare.findings)
    assert not any("holds without film" in each.what for each in added.findings)


def test_two_strips_give_the_lamp_gradient(tmp_path: Path) -> None:
    along = np.linspace(-0.5, 0.5, 31)
    first, second = printed(X + 0.2 * along), printed(X - 0.2 * along)
    found = tablet(
        TabletOptions(densities=tuple(first), turned_densities=tuple(second))
    )
    assert found.lamp_gradient is not None
    assert_allclose(found.lamp_gradient.value, 0.2, atol=2e-3)
    assert found.range is not None
    assert_allclose(found.range.exposure_scale.value, 1.8, atol=2e-3)


def test_eye_read_steps_alone() -> None:
    found = tablet(
        TabletOptions(
            merged_step=3, last_step=17, tablet="21", time="8m", film_density=0.12
        )
    )
    assert found.curve is None
    assert found.eye_scale is not None
    assert_allclose(found.eye_scale.value, 2.10)
    assert_allclose(found.eye_black_time_s, 480 * 10 ** (0.12 - 0.35))
    assert "exposure scale by eye" in tablet_card(found).text()


def test_patches_beside_the_tablet(tmp_path: Path) -> None:
    patches = tmp_path / "patches.csv"
    middle = 0.06 + 0.7
    patches.write_text(
        f"patch,density\ngrey,{middle}\ngrey,{middle}\nlight,0.08\n", encoding="utf-8"
    )
    found = tablet(TabletOptions(densities=tuple(printed(X)), patches=patches))
    grey, light = found.matches
    assert_allclose(grey.printing_density.value, 1.5, atol=1e-3)
    assert (grey.readings, light.limit) == (2, "at least")
    assert found.second is not None
    assert "at least" in tablet_card(found).text()


def test_negative_and_series(tmp_path: Path) -> None:
    series = tmp_path / "series.csv"
    series.write_text("dose,exposure_scale\n0,2.1\n1,1.9\n3,1.7\n", encoding="utf-8")
    options = TabletOptions(
        densities=tuple(printed(X)), negative=(0.1, 1.9), series=series
    )
    found = tablet(options)
    assert found.fit is not None
    assert_allclose(found.fit.shortfall, 0.0, atol=2e-3)
    assert found.dose is not None
    assert 1 < found.dose.value < 3
    beyond = tablet(replace(options, wanted_scale=1.2))
    assert beyond.dose is None
    assert any("your tests span" in each.what for each in beyond.findings)


def test_print_out_processes_are_not_carried_beyond_a_stop() -> None:
    options = TabletOptions(
        densities=tuple(printed(X, middle=-2.4, scale=1.2)), time="8m", process="salt"
    )
    with pytest.raises(ReadingsError, match="prints out and shields itself"):
        tablet(options)
    found = tablet(replace(options, process=None))
    assert any("stops from the test" in each.what for each in found.findings)
    tablet(replace(options, process="kallitype"))


def test_dropped_steps_are_left_out(tmp_path: Path) -> None:
    density = printed(X)
    density[6] = 0.3
    found = tablet(TabletOptions(densities=tuple(density), drop=(7,)))
    assert 7 not in found.step
    assert len(found.step) == 30
    with pytest.raises(InvalidValueError, match="step 40 was not read"):
        tablet(TabletOptions(densities=tuple(density), drop=(40,)))


def test_the_page_holds_figure_table_and_cautions(tmp_path: Path) -> None:
    page = tmp_path / "test.html"
    options = TabletOptions(densities=tuple(printed(X)), process="palladium", page=page)
    tablet(options)
    text = page.read_text(encoding="utf-8")
    assert text.startswith("<!DOCTYPE html>")
    assert "<svg" in text
    assert "tablet D" in text
    assert "UV light" in text
    assert "safety data sheet" in text
    assert "http" not in text.replace("http-equiv", "")
    with pytest.raises(FileError):
        tablet(options)
    tablet(replace(options, overwrite=True))


def test_plain_values_have_no_objects_left() -> None:
    found = tablet(TabletOptions(densities=tuple(printed(X)), time="8m"))
    plain = tablet_plain(found)
    assert_allclose(plain["exposure_scale"]["value"], 1.8, atol=2e-3)
    assert plain["iso_range"] == 180
    assert plain["steps"]["step"][0] == 1
    assert plain["cautions"][0]["subject"] == "UV light"


@pytest.mark.parametrize(
    ("options", "kind", "message"),
    [
        (TabletOptions(), InvalidValueError, "no strip was given"),
        (TabletOptions(last_step=17), InvalidValueError, "needs the merged step"),
        (
            TabletOptions(densities=tuple(printed(X)), tablet="17"),
            InvalidValueError,
            "is neither steps and increment nor a file",
        ),
        (
            TabletOptions(densities=(1.4,) * 40),
            ReadingsError,
            "step 32 is not on the 31x0.10 tablet",
        ),
        (
            TabletOptions(densities=tuple(printed(X)), film_density=3.0, time="8m"),
            InvalidValueError,
            "clear film of density 3 is not likely",
        ),
        (
            TabletOptions(densities=tuple(printed(X)), time="soon"),
            InvalidValueError,
            "'soon' is not a time",
        ),
        (
            TabletOptions(negative=(0.1, 1.5), series=None, merged_step=3),
            InvalidValueError,
            "--merged: gives no exposure scale by itself\nAdd --last",
        ),
        (
            TabletOptions(negative=(0.1, 1.5)),
            InvalidValueError,
            "strip: no strip was given\nName a CSV",
        ),
        (
            TabletOptions(densities=tuple(printed(X)), black_share=2.0),
            InvalidValueError,
            "black share: 2 lies outside 0.5..0.999\nGive the share",
        ),
    ],
)
def test_what_cannot_be_answered(options, kind, message: str) -> None:
    with pytest.raises(kind, match=message):
        tablet(options)


def test_a_tablet_file_whose_densities_do_not_rise(tmp_path: Path) -> None:
    wedge = tmp_path / "wedge.csv"
    wedge.write_text("step,density\n1,0.05\n2,0.30\n3,0.20\n", encoding="utf-8")
    with pytest.raises(InvalidValueError) as caught:
        tablet(TabletOptions(densities=tuple(printed(X)), tablet=wedge))
    assert str(caught.value) == (
        "wedge.csv: step 3 has density 0.2, not above step 2 with 0.3\n"
        "Tablet densities rise from step 1, the clear end."
    )


def test_bad_rows_are_listed_together(tmp_path: Path) -> None:
    path = tmp_path / "strip.csv"
    path.write_text("step,density\n1,1.4\n2,dark\n3,\n", encoding="utf-8")
    with pytest.raises(ReadingsError) as caught:
        tablet(TabletOptions(strip=path))
    assert "line 3: density 'dark' is no number" in str(caught.value)
    assert "line 4: density '' is no number" in str(caught.value)


def test_wet_strips_are_refused(tmp_path: Path) -> None:
    path = strip_file(tmp_path)
    path.write_text("# print_state: wet\n" + path.read_text(), encoding="utf-8")
    with pytest.raises(ReadingsError, match="was read wet"):
        tablet(TabletOptions(strip=path))


def test_a_missing_column_is_named(tmp_path: Path) -> None:
    path = tmp_path / "strip.csv"
    path.write_text("number,value\n1,1.4\n", encoding="utf-8")
    with pytest.raises(ReadingsError) as caught:
        tablet(TabletOptions(strip=path))
    assert str(caught.value) == (
        "strip.csv: has no column step, only number, value\n"
        "Let the first line be step,density."
    )


def test_a_readings_file_brings_its_tablet(tmp_path: Path) -> None:
    tablet_density = nominal_tablet("31").density[2:28]
    readings = Readings(
        negative_level=np.append(np.ones(26), 0.5),
        density=np.append(printed(-tablet_density), 0.7),
        patch=(*(f"tablet {n}" for n in range(3, 29)), "1"),
        tablet_density=np.append(tablet_density, np.nan),
    )
    path = tmp_path / "r.csv"
    write_readings(readings, path)
    found = tablet(TabletOptions(strip=path, time="8m"))
    assert found.range is not None
    assert_allclose(found.range.exposure_scale.value, 1.8, atol=5e-3)
    assert found.options.film_over
    assert found.findings == ()
    wet = tmp_path / "wet.csv"
    write_readings(readings.replaced(print_state="wet"), wet)
    with pytest.raises(ReadingsError, match="was read wet"):
        tablet(TabletOptions(strip=wet))
