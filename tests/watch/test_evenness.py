from dataclasses import replace

import numpy as np
import pytest

from negcurve.darkroom.lamp_bank import dead_tube_loss
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.readings import Readings
from negcurve.watch.even_sheet import is_even, sheet_from_readings
from negcurve.watch.evenness import study
from negcurve.watch.evenness_words import evenness_findings
from negcurve.watch.placed import PlacedSheet

W, H = 250.0, 300.0


def bank(across, *, dead=None, spacing=50.0, height=55.0, rows=14):
    """Light of endless tubes, h / (h^2 + u^2) each, summed row by row."""
    light = np.zeros_like(across)
    for row in range(rows):
        place = W / 2 + (row - (rows - 1) / 2) * spacing
        if row != dead:
            light = light + height / (height**2 + (across - place) ** 2)
    return light


def sheet(seed=0, *, field=None, turned=False, noise=0.015, coat=None, name="1"):
    """A sheet with light by place under the lamp, and coating by place on it."""
    rng = np.random.default_rng(seed)
    x, y = (
        each.ravel()
        for each in np.meshgrid(np.linspace(8, W - 8, 12), np.linspace(8, H - 8, 14))
    )
    lamp_x, lamp_y = (W - x, H - y) if turned else (x, y)
    difference = rng.normal(0, noise, len(x))
    if field is not None:
        difference = difference + field(lamp_x, lamp_y)
    if coat is not None:
        difference = difference + coat(x, y)
    ones = np.ones(len(x))
    return PlacedSheet(
        x_mm=x,
        y_mm=y,
        difference=difference - np.median(difference),
        exposure_weight=ones,
        coating_weight=ones,
        width_mm=W,
        height_mm=H,
        turned=turned,
        name=name,
    )


def target_sheet(seed):
    """An even sheet of many tones, scattered over it."""
    rng = np.random.default_rng(seed)
    plain = sheet(seed + 1)
    share = rng.uniform(0.05, 0.98, len(plain.x_mm))
    return replace(
        plain,
        difference=rng.normal(0, 0.015, len(share)),
        exposure_weight=4 * share * (1 - share),
        coating_weight=2 * share,
    )


def dead_row(x, y):
    return 1.1 * np.log10(bank(x, dead=8) / bank(np.array(W / 2)))


ROW_AT = W / 2 + (8 - 6.5) * 50


def marks(found, kind):
    return [each for each in found.causes if each.mark == kind]


def test_an_even_sheet_has_no_cause():
    found = study([sheet(1)])
    assert not [each for each in found.causes if each.gain]
    assert found.noise == pytest.approx(0.015, rel=0.25)
    assert found.spread < 0.03
    assert evenness_findings(found)[0].what.startswith("even to")


def test_a_dead_row_is_found_placed_and_measured_on_one_sheet():
    band = marks(study([sheet(2, field=dead_row)]), "band")[0]
    assert band.shape.axis == "x"
    assert band.shape.center_mm[0] == pytest.approx(ROW_AT, abs=15)
    assert band.shape.height_mm == pytest.approx(55, rel=0.45)
    assert band.origin == "lamp or coating"
    depth = -1.1 * np.log10(1 - dead_tube_loss(55 / 50))
    assert -band.size == pytest.approx(depth, rel=0.35)


def test_two_sheets_tell_that_the_band_stays_with_the_lamp():
    found = study([sheet(3, field=dead_row), sheet(4, field=dead_row, turned=True)])
    band = marks(found, "band")[0]
    assert band.origin == "lamp"
    assert band.shape.center_mm[0] == pytest.approx(ROW_AT, abs=12)
    assert "Check that row of lamps" in evenness_findings(found)[0].fix


def test_two_sheets_tell_a_band_that_stays_with_the_sheet():
    def coat(x, y):
        return -0.12 / (1 + ((y - 100) / 45) ** 2)

    found = study([sheet(5, coat=coat), sheet(6, turned=True)])
    band = marks(found, "band")[0]
    assert band.origin == "coating"
    assert band.sheet == 0


def test_two_sheets_tell_tilt_of_light_from_tilt_of_coating():
    def light(x, y):
        return 0.08 * (x / W - 0.5)

    def coat(x, y):
        return 0.06 * (y / H - 0.5)

    found = study(
        [
            sheet(7, field=light, coat=coat),
            sheet(8, field=light, coat=coat, turned=True),
        ]
    )
    np.testing.assert_allclose(found.lamp_tilt, [0.08, 0.0], atol=0.02)
    np.testing.assert_allclose(found.coating_tilt, [0.0, 0.06], atol=0.02)


def test_one_even_sheet_says_that_light_and_coating_cannot_be_told_apart():
    found = study([sheet(9, field=lambda x, y: 0.1 * (x / W - 0.5))])
    assert found.lamp_tilt is None
    assert found.tilt[0] == pytest.approx(0.1, abs=0.02)
    assert any("light from coating" in each for each in found.not_told)


def test_one_soft_patch_is_found():
    def spot(x, y):
        return -0.12 * np.exp(-((x - 60) ** 2 + (y - 200) ** 2) / (2 * 25**2))

    patch = marks(study([sheet(10, coat=spot)]), "patch")[0]
    assert patch.shape.center_mm == pytest.approx((60, 200), abs=15)


def test_corner_fall_off_is_named():
    def corners(x, y):
        return -0.2 * ((2 * x / W - 1) ** 2 + (2 * y / H - 1) ** 2) / 2

    found = study([sheet(11, field=corners)])
    corners = marks(found, "corners")[0]
    assert corners.size == pytest.approx(-0.2, abs=0.05)
    assert corners.origin == "lamp or coating"
    assert not marks(found, "band")
    words = "\n".join(each.what for each in evenness_findings(found))
    assert "lighter towards all edges and corners" in words
    assert "D lighter at mid-tone" in words


def test_the_end_of_a_bank_is_named_with_its_side():
    def ending(x, y):
        # A wide bank that ends 10 mm beyond the right edge, 45 mm above the print.
        return 1.1 * np.log10(0.5 + np.arctan((W + 10 - x) / 45) / np.pi)

    found = study([sheet(19, field=ending)])
    edge = marks(found, "edge")[0]
    assert (edge.shape.axis, edge.shape.side) == ("x", 1)
    assert edge.size < 0
    finding = next(
        each for each in evenness_findings(found) if "bank of lamps ends" in each.what
    )
    assert finding.where == "right side"
    assert "lighter" in finding.what


def test_narrow_brush_streaks_are_no_dead_row():
    rng = np.random.default_rng(12)
    level = rng.normal(0, 0.03, 40)

    def coat(x, y):
        return np.interp(y, np.linspace(0, H, 40), level)

    found = study([sheet(13, coat=coat)])
    assert marks(found, "streaks")
    assert marks(found, "streaks")[0].shape.axis == "y"
    assert not marks(found, "band")


def test_tones_of_a_target_tell_exposure_from_coating():
    made = target_sheet(14)
    tilt = 0.14 * (made.x_mm / W - 0.5)
    light, coat = (
        study([replace(made, difference=made.difference + tilt * weight)])
        for weight in (made.exposure_weight, made.coating_weight)
    )
    assert light.lamp_tilt[0] > 2 * abs(light.coating_tilt[0])
    assert coat.coating_tilt[0] > 2 * abs(coat.lamp_tilt[0])


@pytest.mark.parametrize("seed", [3, 18, 19])
def test_a_print_exposed_longer_than_its_table_is_not_uneven(seed):
    made = target_sheet(seed)
    longer = replace(
        made,
        difference=made.difference
        + 0.06 * made.exposure_weight
        - 0.02 * made.coating_weight,
    )
    as_made, found = study([made]), study([longer])
    assert [each.mark for each in found.causes] == [
        each.mark for each in as_made.causes
    ]
    assert found.spread == pytest.approx(as_made.spread, abs=0.003)  # D
    np.testing.assert_allclose(found.tilt, as_made.tilt, atol=0.003)  # D


def test_maps_show_the_field():
    found = study([sheet(16, field=dead_row)])
    field = found.maps[0]
    row = field.density.mean(axis=0)
    wanted = dead_row(field.x_mm, field.x_mm)
    assert np.corrcoef(row, wanted)[0, 1] > 0.95


def test_many_readings_are_averaged_over_cells():
    x, y = (
        each.ravel()
        for each in np.meshgrid(np.arange(5, 245, 4.0), np.arange(5, 295, 4.0))
    )
    ones = np.ones(len(x))
    full = PlacedSheet(
        x_mm=x,
        y_mm=y,
        difference=0.001 * x,
        exposure_weight=ones,
        coating_weight=ones,
        width_mm=W,
        height_mm=H,
    )
    small = full.reduced()
    assert len(small.x_mm) < 200
    np.testing.assert_allclose(small.difference, 0.001 * small.x_mm, atol=1e-9)


def test_two_sheets_the_same_way_up_are_refused():
    with pytest.raises(ReadingsError) as caught:
        study([sheet(17), sheet(18)])
    assert "both sheets lay the same way" in str(caught.value)


def test_three_sheets_are_refused():
    with pytest.raises(InvalidValueError):
        study([sheet(1)] * 3)


def test_too_few_readings_are_refused():
    few = np.linspace(10, 200, 6)
    with pytest.raises(ReadingsError):
        PlacedSheet(
            x_mm=few,
            y_mm=few,
            difference=few,
            exposure_weight=few,
            coating_weight=few,
            width_mm=W,
            height_mm=H,
        )


def test_ink_mixtures_are_no_even_sheet():
    level = np.zeros(4)
    readings = Readings(
        negative_level=level,
        density=np.array([0.2, 0.5, 0.9, 1.2]),
        x_mm=np.arange(4.0),
        y_mm=np.arange(4.0),
        ink=("0,0,0", "255,0,0", "0,255,0", "0,0,255"),
    )
    assert not is_even(readings)
    with pytest.raises(ReadingsError, match="is a print of ink mixtures"):
        sheet_from_readings(readings, None)
