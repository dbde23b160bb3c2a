"""In which domain of light to resample: detail and mean tone, measured.

Run with `python -m tests.benchmarks.resampling_domain`. Invented scenes are rendered
finely, averaged as light to two numbers of pixels, one resampled to the other with
Lanczos-3 in each domain and compared in L*: rms over all pixels for detail, rms over
14 x 14 large areas for mean tone.
"""

from collections.abc import Callable

import numpy as np

from negcurve.density import lightness_from_reflectance, reflectance_from_lightness
from negcurve.negative.lanczos import lanczos_weights
from negcurve.values import FloatArray
from tests.negative.pictures import dense

FINE = 1680
SIZES = ((210, 280), (210, 420), (420, 280), (420, 140))

DOMAINS: dict[str, tuple[Callable[[FloatArray], FloatArray], ...]] = {
    "luminance": (lambda light: light, lambda value: value),
    "root": (np.sqrt, np.square),
    "L*": (
        lambda light: lightness_from_reflectance(light) / 100,
        lambda value: reflectance_from_lightness(100 * value),
    ),
}


def smooth_noise(rng: np.random.Generator, power: Callable[[FloatArray], FloatArray]):
    """Noise of unit spread with the given spectrum."""
    frequency = np.hypot(*np.meshgrid(*[np.fft.fftfreq(FINE)] * 2))
    spectrum = np.fft.fft2(rng.normal(size=(FINE, FINE))) * power(frequency)
    noise = np.fft.ifft2(spectrum).real
    return noise / noise.std()


def lines(rng: np.random.Generator, ground: FloatArray, light: float) -> FloatArray:
    """Thin lines in all directions."""
    y, x = np.mgrid[0:FINE, 0:FINE] / FINE
    scene = ground.copy()
    for _ in range(120):
        turn, place = rng.random() * np.pi, rng.random() * 1.4 - 0.2
        thick = 0.0004 + 0.003 * rng.random() ** 2
        scene[np.abs(x * np.cos(turn) + y * np.sin(turn) - place) < thick] = light
    return scene


def discs(rng: np.random.Generator) -> FloatArray:
    """Overlapping discs of any tone."""
    y, x = np.mgrid[0:FINE, 0:FINE] / FINE
    scene = np.full((FINE, FINE), 0.2)
    for _ in range(300):
        across, down, radius = rng.random(3)
        inside = (x - across) ** 2 + (y - down) ** 2 < (0.005 + 0.05 * radius) ** 2
        scene[inside] = reflectance_from_lightness(100 * rng.random())
    return scene


def scenes() -> dict[str, FloatArray]:
    """Luminance of the scenes, shape (FINE, FINE)."""
    rng = np.random.default_rng(1)
    y, x = np.mgrid[0:FINE, 0:FINE] / FINE
    grain = smooth_noise(rng, lambda f: np.exp(-((6 * f) ** 2)))
    leaves = smooth_noise(rng, lambda f: 1 / np.maximum(f, 1 / FINE))
    return {
        "grain": reflectance_from_lightness(np.clip(10 + 80 * x + 9 * grain, 0, 100)),
        "foliage": reflectance_from_lightness(np.clip(45 + 22 * leaves, 0, 100)),
        "discs": discs(rng),
        "dark twigs": lines(rng, 0.7 - 0.3 * y, 0.015),
        "lit wires": lines(rng, 0.01 + 0.02 * x, 0.85),
    }


def averaged(light: FloatArray, size: int) -> FloatArray:
    """Mean light of square pixels."""
    step = len(light) // size
    return light.reshape(size, step, size, step).mean(axis=(1, 3))


def main() -> None:
    """Print the errors."""
    for name, fine in scenes().items():
        for source, wanted in SIZES:
            print(f"{name}, {source} to {wanted} pixels: L* rms, mean tone rms")
            matrix = dense(lanczos_weights(source, wanted))
            given, right = averaged(fine, source), averaged(fine, wanted)
            for domain, (forth, back) in DOMAINS.items():
                value = (matrix @ (matrix @ forth(given)).T).T
                light = back(np.clip(value, 0, 1))
                error = _difference(light, right)
                areas = _difference(averaged(light, 14), averaged(right, 14))
                print(f"  {domain:9s} {error:6.2f} {areas:6.2f}")


def _difference(light: FloatArray, right: FloatArray) -> float:
    error = lightness_from_reflectance(light) - lightness_from_reflectance(right)
    return float(np.sqrt(np.mean(error**2)))


if __name__ == "__main__":
    main()
