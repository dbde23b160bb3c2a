"""Scans of one print by an uneven scanner, drawn from the formula of a light gain."""

from dataclasses import replace

import numpy as np
import pytest

from negcurve.errors import ReadingsError
from negcurve.reading.averaging import average, average_scans
from negcurve.reading.lay import Lay
from negcurve.readings import Readings

GLASS = (216.0, 297.0)
COLUMNS, ROWS = 6, 17
COUNT = COLUMNS * ROWS


class Bench:
    """A print of 102 patches and a scanner that multiplies light by a field."""

    def __init__(self, seed=1, *, tilt=0.03, bend=0.0, noise=0.002):
        self.rng = np.random.default_rng(seed)
        self.tilt, self.bend, self.noise = tilt, bend, noise
        place = np.arange(COUNT)
        self.x = 30 * (place % COLUMNS - (COLUMNS - 1) / 2)
        self.y = 13 * (place // COLUMNS - (ROWS - 1) / 2)
        self.level = self.rng.permutation(np.linspace(0, 1, COUNT))
        self.density = 0.08 + 1.3 * self.level

    def lay(self, turn=0, shift=(0, 0)):
        cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        x = self.x * cos - self.y * sin + GLASS[0] / 2 + shift[0]
        y = self.x * sin + self.y * cos + GLASS[1] / 2 + shift[1]
        return Lay(x_mm=x, y_mm=y, turn_degrees=turn, size_mm=GLASS)

    def field(self, lay):
        """Density that the scanner adds: -log10 of its gain."""
        u = 2 * lay.x_mm / GLASS[0] - 1
        v = 2 * lay.y_mm / GLASS[1] - 1
        return -np.log10(1 + self.tilt * u / 2 + self.bend * v * v)

    def scan(self, lay, *, drift=0.0, added=0.0):
        noise = self.rng.normal(0, self.noise, COUNT)
        return Readings(
            negative_level=self.level,
            density=self.density + self.field(lay) + noise + drift + added,
            patch=tuple(str(each + 1) for each in range(COUNT)),
            standard_error=np.full(COUNT, self.noise),
            source="scan.tif",
        )

    def read(self, *lays, **options):
        scans = [self.scan(lay, drift=0.01 * k) for k, lay in enumerate(lays)]
        return average_scans(scans, lays, **options)

    def error(self, readings):
        """Deviation of the readings from the print, its mean left out. [D rms]"""
        return float(np.std(readings.density - self.density))


def parts(glass):
    return {part.name: part for part in glass.parts}


def spans(glass):
    return {part.name: part.span for part in glass.parts}


def test_a_turn_by_180_degrees_tells_the_tilt_and_only_it():
    """3 % across 216 mm, of which the patches span 150: log10 of light, to the left."""
    bench = Bench(bend=0.02)
    _, glass = bench.read(bench.lay(), bench.lay(180))
    assert set(parts(glass)) == {"tilt across", "tilt down"}
    assert glass.untold == ("bend across", "bend down", "twist")
    expected = -0.03 * 150 / 216 / np.log(10)
    error = parts(glass)["tilt across"].standard_error
    assert error < 0.0006
    assert spans(glass)["tilt across"] == pytest.approx(expected, abs=3 * error)
    assert abs(spans(glass)["tilt down"]) < 3 * parts(glass)["tilt down"].standard_error
    assert glass.corrected
    assert glass.moves == ((-180.0, pytest.approx(0, abs=1e-9)),)


def test_a_turn_by_90_degrees_tells_all_but_the_bowl():
    bench = Bench(bend=0.03)
    _, glass = bench.read(bench.lay(), bench.lay(90))
    assert set(parts(glass)) == {"tilt across", "tilt down", "twist", "saddle"}
    assert glass.untold == ("bend across", "bend down")
    # -log10(1 + b v v), v = y / 148.5; the saddle is half of the coefficient of y^2.
    coefficient = 0.03 / np.log(10) * (104 / 148.5) ** 2 / 2
    one = parts(glass)["saddle"]
    assert one.span == pytest.approx(2 * coefficient * 0.96, rel=0.12)
    assert one.span > 5 * one.standard_error


@pytest.mark.parametrize(
    ("shift", "told"), [((0, 50), "bend down"), ((50, 0), "bend across")]
)
def test_a_shift_tells_the_bend_along_it_but_no_tilt(shift, told):
    bench = Bench(bend=0.03, noise=0.001)
    _, glass = bench.read(bench.lay(), bench.lay(0, shift))
    assert set(parts(glass)) == {told, "twist"}
    assert {"tilt across", "tilt down"} < set(glass.untold)
    one = parts(glass)[told]
    if told == "bend down":
        # From y = -104 to 154 of the middle, bent about it at 25.
        expected = -0.03 / np.log(10) * (129 / 148.5) ** 2
        assert one.span == pytest.approx(expected, abs=4 * one.standard_error)
        assert glass.corrected
    else:
        assert abs(one.span) < 4 * one.standard_error
        assert not glass.corrected


def test_a_turn_and_a_shift_tell_all_and_mend_all():
    bench = Bench(bend=0.03)
    lays = bench.lay(), bench.lay(90), bench.lay(0, (0, 50))
    readings, glass = bench.read(*lays)
    assert glass.untold == ()
    left, _ = bench.read(*lays, correct=False)
    assert bench.error(readings) < 0.0016  # noise 0.002 / sqrt(3), and the field's own
    mean_field = np.mean([bench.field(lay) for lay in lays], axis=0)
    assert bench.error(left) == pytest.approx(
        np.hypot(np.std(mean_field), 0.002 / 3**0.5), rel=0.1
    )
    assert bench.error(left) > 1.6 * bench.error(readings)


def test_laid_alike_nothing_is_claimed():
    bench = Bench(tilt=0.05, bend=0.05)
    lays = bench.lay(), bench.lay(0.3, (1, -1))
    readings, glass = bench.read(*lays)
    assert glass.parts == ()
    assert not glass.corrected
    plain = average([bench.scan(lay) for lay in lays])
    assert bench.error(readings) == pytest.approx(bench.error(plain), rel=0.1)
    (found,) = [each for each in readings.findings if each.where == "scanner"]
    assert "laid alike tells nothing of the scanner's own unevenness" in found.what
    assert "turned by 180 degrees" in found.fix


def test_a_small_shift_magnifies_errors_and_is_not_used():
    bench = Bench(noise=1e-6)
    _, glass = bench.read(bench.lay(), bench.lay(0, (6, 6)))
    assert glass.parts == ()


def test_an_even_scanner_is_said_to_be_even_and_left_alone():
    """Of 40 pairs none is corrected: one in a thousand would be by chance."""
    for seed in range(40):
        bench = Bench(seed, tilt=0)
        readings, glass = bench.read(bench.lay(), bench.lay(180))
        assert not glass.significant
    (found,) = [each for each in readings.findings if each.where == "scanner"]
    assert "turned by 180 degrees shows no unevenness" in found.what
    assert "not told apart from the print: bend across, bend down, twist" in found.what


def test_standard_errors_hold():
    """Estimates over their errors have a deviation of 1, to a few hundredths of 300."""
    ratios = []
    for seed in range(300):
        bench = Bench(seed)
        _, glass = bench.read(bench.lay(), bench.lay(180))
        one = parts(glass)["tilt across"]
        ratios.append((one.span + 0.03 * 150 / 216 / np.log(10)) / one.standard_error)
    assert abs(np.mean(ratios)) < 0.35  # log10 of light is not quite straight
    assert 0.88 < np.std(ratios) < 1.16


def test_two_alike_and_one_turned_keep_no_third_of_the_tilt():
    """The plain mean of 0, 0 and 180 degrees holds a third of the tilt, this none."""
    bench = Bench(tilt=0.06, noise=0.001)
    lays = bench.lay(), bench.lay(), bench.lay(180)
    mended, _ = bench.read(*lays)
    left, _ = bench.read(*lays, correct=False)
    third = np.std(bench.field(lays[0])) / 3
    assert bench.error(left) == pytest.approx(third, rel=0.1)
    assert bench.error(mended) < 0.001


def test_dust_in_one_scan_does_not_tilt_the_glass():
    bench = Bench()
    lays = bench.lay(), bench.lay(180)
    hit = np.random.default_rng(2).permutation(np.flatnonzero(bench.x > 0))[:10]
    dust = np.zeros(COUNT)
    dust[hit] = 0.15  # on 10 of the 51 patches at the right, and in one scan only
    scans = bench.scan(lays[0], added=dust), bench.scan(lays[1])
    _, glass = average_scans(scans, lays)
    expected = -0.03 * 150 / 216 / np.log(10)
    assert spans(glass)["tilt across"] == pytest.approx(expected, abs=0.0015)


def test_flagged_readings_tell_nothing():
    bench = Bench(noise=0.0005)
    lays = bench.lay(), bench.lay(180)
    flags = [{"covered"} if x > 40 else () for x in bench.x]
    covered = bench.scan(lays[0], added=np.where(bench.x > 40, 0.004, 0))
    _, glass = average_scans([covered.replaced(flags=flags), bench.scan(lays[1])], lays)
    expected = -0.03 * 150 / 216 / np.log(10)
    reach = np.ptp(lays[0].x_mm) / 150
    assert spans(glass)["tilt across"] == pytest.approx(expected * reach, rel=0.05)


def test_a_changed_contrast_is_no_unevenness():
    bench = Bench(tilt=0)
    lays = bench.lay(), bench.lay(180)
    second = bench.scan(lays[1], added=0.03 * bench.density - 0.02)
    _, glass = average_scans([bench.scan(lays[0]), second], lays)
    assert not glass.significant
    # As sure as with two scans alike: 0.002 D over 102 patches, span 3.4 deviations.
    assert parts(glass)["tilt across"].standard_error < 0.0006


def test_stray_light_is_seen_to_be_no_gain_and_left():
    """Light added, not multiplied: 0.0015 of R at one side, ten times the D at 1.3."""
    bench = Bench(tilt=0, noise=0.001)
    lays = bench.lay(), bench.lay(180)

    def stray(lay):
        light = 10**-bench.density
        return -np.log10(light + 0.0015 * lay.x_mm / GLASS[0]) - bench.density

    scans = [bench.scan(lay, added=stray(lay)) for lay in lays]
    readings, glass = average_scans(scans, lays)
    assert glass.by_tone
    assert not glass.corrected
    (found,) = [each for each in readings.findings if each.where == "scanner"]
    assert found.severity == "warning"
    assert "not taken out, as dark patches show another unevenness" in found.what


def test_of_scans_of_different_areas_no_shift_is_believed():
    """Cropped scans have no common origin, so only the turn between them counts."""
    bench = Bench(tilt=0, bend=0.03)
    lay, moved = bench.lay(), bench.lay(0, (0, 50))
    cropped = replace(moved, y_mm=moved.y_mm - 20, size_mm=(216, 257))
    readings, glass = bench.read(lay, cropped)
    assert glass.parts == ()
    (found,) = [each for each in readings.findings if each.where == "scanner"]
    assert "the scans show different areas of the glass" in found.what
    _, glass = bench.read(lay, replace(bench.lay(180), size_mm=(216, 257)))
    assert set(parts(glass)) == {"tilt across", "tilt down"}


def test_the_finding_says_size_side_and_deed():
    bench = Bench(tilt=0.06)
    lays = bench.lay(), bench.lay(180)
    for correct, deed in ((True, "taken out of"), (False, "left in")):
        readings, _ = bench.read(*lays, correct=correct)
        (found,) = [each for each in readings.findings if each.where == "scanner"]
        assert found.what.startswith("the print turned by 180 degrees shows the")
        assert "tilt across 0.018 D, darker at the left" in found.what
        assert f"; {deed} the readings" in found.what
        assert "L* in its white" in found.what


def test_lists_without_a_place_on_the_glass_are_averaged_as_they_are():
    bench = Bench()
    lay = bench.lay()
    scan = bench.scan(lay)
    readings, glass = average_scans([scan, bench.scan(lay)], [lay, None])
    assert glass is None
    assert len(readings) == COUNT
    lays = [lay, None, bench.lay(180)]
    _, glass = average_scans([bench.scan(each or lay) for each in lays], lays)
    assert set(parts(glass)) == {"tilt across", "tilt down"}


def test_scans_of_different_targets_are_refused_before_the_glass_is_looked_at():
    bench = Bench()
    lays = bench.lay(), bench.lay(180)
    one, other = (bench.scan(lay) for lay in lays)
    with pytest.raises(ReadingsError, match="Only readings of one print"):
        average_scans([one, other.replaced(target="00001234")], lays)


def test_scans_that_share_few_patches_tell_nothing():
    bench = Bench()
    lays = bench.lay(), bench.lay(180)
    one, other = (bench.scan(lay) for lay in lays)
    few = other.replaced(patch=[f"x{place}" for place in range(COUNT)])
    readings, glass = average_scans([one, few], lays)
    assert glass.parts == ()
    assert len(readings) == 2 * COUNT
