"""Time and memory of `negcurve apply` beside others, as ratios within one run.

Run with `python -m tests.benchmarks.apply` (`--cases memory` for the peak memory at
100 megapixels alone). Whole processes, started one after the other in turn, medians;
pictures are drawn with grain, so that compression has work to do. libvips and OpenCV
are taken from `--rival-python`, an interpreter that has pyvips and opencv-python; one
that is missing is named and left out.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import ImageCms

from negcurve.files.solution_json import write_solution
from negcurve.files.tiff import Compression, GreyTiffWriter
from negcurve.values import CodeArray
from tests.tasks.test_apply import solved

APPLY = "from negcurve.cli import main; main()"

# A small process in between: on Linux a child's peak memory counts what its parent held
# when it was started.
LAUNCH = """
import os, sys, time
start = time.perf_counter()
child = os.posix_spawnp(sys.argv[1], sys.argv[1:], os.environ, file_actions=[
    (os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)])
_, status, usage = os.wait4(child, 0)
took = time.perf_counter() - start
print(took, usage.ru_utime + usage.ru_stime, usage.ru_maxrss)
sys.exit(os.waitstatus_to_exitcode(status) != 0)
"""

# A table as libvips applies one: every code looked up, the picture flipped.
VIPS_GREY = """
import sys, numpy, pyvips
picture = pyvips.Image.new_from_file(sys.argv[1], access="sequential")
codes = numpy.arange(65535, -1, -1, dtype=numpy.uint16).reshape(1, -1)
negative = picture.maplut(pyvips.Image.new_from_array(codes)).fliphor()
negative.write_to_file(sys.argv[2], **eval(sys.argv[3]))
"""

VIPS_RGB = """
import sys, numpy, pyvips
picture = pyvips.Image.new_from_file(sys.argv[1], access="sequential")
lab = picture.icc_import(embedded=True, pcs="lab", intent="relative")
tone = (lab[0] * 655.35).cast("ushort")
codes = numpy.arange(65535, -1, -1, dtype=numpy.uint16).reshape(1, -1)
tone.maplut(pyvips.Image.new_from_array(codes)).fliphor().write_to_file(sys.argv[2])
"""

# Each prints the best of five; all with as many threads as there are cores.
TIMED = """
import sys, time
import numpy as np
codes = np.load(sys.argv[1])
height, width = map(int, sys.argv[2:])
def timed(work):
    best = []
    for _ in range(5):
        start = time.perf_counter(), time.process_time()
        work()
        best.append((time.perf_counter() - start[0], time.process_time() - start[1]))
    print(*min(best))
"""

# The sums alone: float32 in, float32 out.
RESAMPLE_OURS = (
    TIMED
    + """
import os
from concurrent.futures import ThreadPoolExecutor
from queue import SimpleQueue
from negcurve.negative.resampling import Resampler
class AsItIs:
    def of(self, block, out): np.copyto(out, block[..., 0])
found = np.empty((height, width), codes.dtype)
def work():
    resampler = Resampler(codes.shape, found.shape)
    workers = SimpleQueue()
    for _ in range(os.cpu_count()): workers.put(resampler.worker(AsItIs()))
    def band(piece):
        worker = workers.get()
        rows = codes[slice(*piece.needed), :, np.newaxis]
        for columns, tile in worker.tiles(piece, rows):
            found[piece.start : piece.stop, columns] = tile
        workers.put(worker)
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(band, resampler.bands))
timed(work)
"""
)

# The whole negative: uint16 in, through light, sums and table, uint16 out.
NEGATIVE_OURS = (
    TIMED
    + """
from negcurve.encoding import SRGB_GREY
from negcurve.files.memory_picture import MemoryPicture
from negcurve.negative.rendering import Rendering, render
from negcurve.negative.resampling import Resampler
from negcurve.negative.tones import STRAIGHT
class Nowhere:
    def write(self, rows): pass
picture = MemoryPicture(name="a", array=codes)
timed(lambda: render(picture, Nowhere(), encoding=SRGB_GREY, table=STRAIGHT,
    how=Rendering(mirrored=False,
                  resampler=Resampler(codes.shape, (height, width)))))
"""
)

# Tables of 16 bits for the rivals' whole negative: code to root of light, and back.
TABLES = """
level = np.arange(65536) / 65535
light = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
roots = np.sqrt(light).astype(np.float32)
luminance = level**2
lightness = np.where(luminance <= 216 / 24389, luminance * 24389 / 27,
                     116 * np.cbrt(luminance) - 16)
negative = np.rint((1 - lightness / 100) * 65535).astype(np.uint16)
"""

NEGATIVE_CV = (
    TIMED
    + TABLES
    + """
import cv2
def work():
    root = cv2.resize(cv2.LUT(codes, roots), (width, height),
                      interpolation=cv2.INTER_LANCZOS4)
    return cv2.LUT(cv2.multiply(root, 65535, dtype=cv2.CV_16U), negative)
timed(work)
"""
)

NEGATIVE_VIPS = (
    TIMED
    + TABLES
    + """
import pyvips
picture = pyvips.Image.new_from_array(codes)
def work():
    root = picture.maplut(pyvips.Image.new_from_array(roots.reshape(1, -1)))
    root = root.resize(width / picture.width, vscale=height / picture.height,
                       kernel="lanczos3")
    table = pyvips.Image.new_from_array(negative.reshape(1, -1))
    (root * 65535 + 0.5).cast("ushort").maplut(table).write_to_memory()
timed(work)
"""
)

RESAMPLE_CV = (
    TIMED
    + """
import cv2
timed(lambda: cv2.resize(codes, (width, height), interpolation=cv2.INTER_LANCZOS4))
"""
)

RESAMPLE_VIPS = (
    TIMED
    + """
import pyvips
picture = pyvips.Image.new_from_array(codes)
timed(lambda: picture.resize(width / picture.width, vscale=height / picture.height,
    kernel="lanczos3").write_to_memory())
"""
)


@dataclass(frozen=True)
class Run:
    """One finished process."""

    seconds: float
    processor_s: float
    peak_mb: float


def timed(command: list[str]) -> Run:
    """Run a process to its end; time by the wall clock, memory as the system counts."""
    outcome = subprocess.run(
        [sys.executable, "-I", "-S", "-c", LAUNCH, *command],
        capture_output=True,
        text=True,
        check=False,
    )
    if outcome.returncode:
        raise RuntimeError(f"failed: {' '.join(command[:4])}\n{outcome.stderr}")
    seconds, processor, peak = map(float, outcome.stdout.split()[-3:])
    return Run(
        seconds, processor, peak / (2**20 if sys.platform == "darwin" else 2**10)
    )


def in_turn(
    commands: dict[str, list[str]], repeats: int, tidy: Callable[[], None]
) -> dict[str, Run]:
    """Run each command once, then each again ...; medians of time, highest memory.

    A first round is not counted: in it Python keeps the byte-code of every module.
    """
    runs: dict[str, list[Run]] = {name: [] for name in commands}
    for command in commands.values():
        tidy()
        timed(command)
    for _ in range(repeats):
        for name, command in commands.items():
            tidy()
            runs[name].append(timed(command))
    return {
        name: Run(
            statistics.median(each.seconds for each in kept),
            statistics.median(each.processor_s for each in kept),
            max(each.peak_mb for each in kept),
        )
        for name, kept in runs.items()
    }


def has(python: str, module: str) -> bool:
    """Whether an interpreter has a module; says so when it has not."""
    found = subprocess.run(
        [python, "-c", f"import {module}"], capture_output=True, check=False
    )
    if found.returncode:
        print(f"  {module} is not installed for {python}: left out")
    return found.returncode == 0


def grainy(rows: slice, height: int, width: int, grain: CodeArray) -> CodeArray:
    """Rows of a landscape of soft tones with grain, codes of uint16."""
    y = np.arange(rows.start, rows.stop)[:, np.newaxis] / height
    x = np.arange(width) / width
    tone = 32_000 + 25_000 * np.sin(5 * x + 2 * y) * np.cos(4 * y)
    first = (rows.start * 7919) % 997
    turned = grain[: rows.stop - rows.start, first : first + width]
    return np.clip(tone + turned, 0, 65535).astype(np.uint16)


def draw(
    path: Path,
    megapixels: float,
    *,
    channels: int = 1,
    compression: Compression = "none",
) -> Path:
    """Write a picture with sides 3:2."""
    height = round((megapixels * 1e6 / 1.5) ** 0.5)
    width = round(1.5 * height)
    rng = np.random.default_rng(1)
    grain = rng.normal(0, 900, (256, width + 997 + 300)).astype(np.float32)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    with GreyTiffWriter(
        path,
        width=width,
        height=height,
        resolution_ppi=720,
        description="",
        compression=compression,
        channels=channels,
        profile=profile if channels == 3 else None,
    ) as writer:
        for top in range(0, height, 256):
            rows = slice(top, min(top + 256, height))
            planes = [
                grainy(rows, height, width, grain[:, 100 * place :])
                for place in range(channels)
            ]
            writer.write(planes[0] if channels == 1 else np.stack(planes, axis=2))
    return path


@dataclass(frozen=True)
class Bench:
    """Where to work and with what."""

    folder: Path
    repeats: int
    rival: str

    @property
    def output(self) -> Path:
        return self.folder / "out.tif"

    def tidy(self) -> None:
        self.output.unlink(missing_ok=True)

    def ours(self, picture: Path, *options: str) -> list[str]:
        table = self.folder / "table.json"
        if not table.exists():
            write_solution(solved(), table)
        given = ["apply", str(picture), "-o", str(self.output), "--table", str(table)]
        return [sys.executable, "-c", APPLY, *given, "-q", "--ppi", "360", *options]

    def vips(self, code: str, picture: Path, saved: str = "{}") -> list[str]:
        return [self.rival, "-c", code, str(picture), str(self.output), saved]


def grey(bench: Bench, megapixels: float) -> None:
    """Uncompressed 16-bit grey: time beside libvips and cp, peak memory."""
    picture = draw(bench.folder / "grey.tif", megapixels)
    commands = {"negcurve": bench.ours(picture)}
    if has(bench.rival, "pyvips"):
        commands["libvips"] = bench.vips(VIPS_GREY, picture)
    commands["cp"] = ["cp", str(picture), str(bench.output)]
    report(f"grey, {megapixels:g} megapixels", bench, commands)
    picture.unlink()


def compressed(bench: Bench, megapixels: float, kind: Compression) -> None:
    """16-bit grey, compressed in and out."""
    picture = draw(bench.folder / "grey.tif", megapixels, compression=kind)
    commands = {"negcurve": bench.ours(picture, "--compression", kind)}
    saved = {"deflate": "{'compression': 'deflate', 'Q': 1, 'predictor': 'horizontal'}"}
    if has(bench.rival, "pyvips"):
        other = f"{{'compression': '{kind}', 'predictor': 'horizontal'}}"
        commands["libvips"] = bench.vips(VIPS_GREY, picture, saved.get(kind, other))
    report(f"grey, {kind}, {megapixels:g} megapixels", bench, commands)
    for name, command in commands.items():
        bench.tidy()
        timed(command)
        print(f"  {name} wrote {bench.output.stat().st_size / 1e6:.0f} MB")
    picture.unlink()


def colour(bench: Bench, megapixels: float) -> None:
    """16-bit RGB with a profile to a grey negative."""
    picture = draw(bench.folder / "rgb.tif", megapixels, channels=3)
    commands = {"negcurve": bench.ours(picture)}
    if has(bench.rival, "pyvips"):
        commands["libvips"] = bench.vips(VIPS_RGB, picture)
    report(f"RGB, {megapixels:g} megapixels", bench, commands)
    picture.unlink()


def report(title: str, bench: Bench, commands: dict[str, list[str]]) -> None:
    """Print medians, ratios and peak memory."""
    print(title)
    runs = in_turn(commands, bench.repeats, bench.tidy)
    own = runs["negcurve"]
    for name, run in runs.items():
        ratio = f", negcurve takes {own.seconds / run.seconds:.2f} of it"
        print(
            f"  {name}: {run.seconds:.2f} s ({run.processor_s:.2f} s of processor), "
            f"peak {run.peak_mb:.0f} MB" + ("" if name == "negcurve" else ratio)
        )


def resampling(bench: Bench) -> None:
    """24 to 41 megapixels in process: the sums alone, then the whole negative.

    Ours are Lanczos-3, exact to float32; OpenCV's span 8 pixels, with weights for 32
    places between two. The whole negative goes from codes to light, is resampled and
    goes through a table; it is held against the same work, with tables of 16 bits, and
    against resampling alone.
    """
    height, width = 4000, 6000
    rng = np.random.default_rng(1)
    grain = rng.normal(0, 900, (height, width + 997)).astype(np.float32)
    codes = grainy(slice(0, height), height, width, grain)
    level = (codes / 65535).astype(np.float32)
    for title, picture, ours, opencv, vips in (
        ("the sums alone, float32", level, RESAMPLE_OURS, RESAMPLE_CV, RESAMPLE_VIPS),
        ("the whole negative", codes, NEGATIVE_OURS, NEGATIVE_CV, NEGATIVE_VIPS),
        (
            "the whole negative against resampling codes alone",
            codes,
            NEGATIVE_OURS,
            RESAMPLE_CV,
            RESAMPLE_VIPS,
        ),
    ):
        print(f"24 to 41 megapixels in process: {title}")
        path = bench.folder / "codes.npy"
        np.save(path, picture)
        scripts = {"negcurve": (sys.executable, ours)}
        if has(bench.rival, "cv2"):
            scripts["OpenCV"] = (bench.rival, opencv)
        if has(bench.rival, "pyvips"):
            scripts["libvips"] = (bench.rival, vips)
        in_process(scripts, [str(path), "5228", "7842"], bench.repeats)
        path.unlink()


def in_process(
    scripts: dict[str, tuple[str, str]], arguments: list[str], repeats: int
) -> None:
    """Run scripts in turn that print their own times; print medians and ratios."""
    seconds: dict[str, list[tuple[float, float]]] = {name: [] for name in scripts}
    for _ in range(repeats):
        for name, (python, code) in scripts.items():
            outcome = subprocess.run(
                [python, "-c", code, *arguments],
                capture_output=True,
                text=True,
                check=True,
            )
            wall, processor = map(float, outcome.stdout.split())
            seconds[name].append((wall, processor))
    middles = {
        name: [statistics.median(each) for each in zip(*kept, strict=True)]
        for name, kept in seconds.items()
    }
    own = middles["negcurve"]
    for name, (wall, processor) in middles.items():
        ratio = (
            f", negcurve takes {own[0] / wall:.2f} ({own[1] / processor:.2f} of "
            "its processor time)"
        )
        print(
            f"  {name}: {1000 * wall:.0f} ms ({1000 * processor:.0f} ms of processor)"
            + ("" if name == "negcurve" else ratio)
        )


def memory(bench: Bench) -> None:
    """Peak memory at 100 megapixels, which must stay within 200 MB."""
    picture = draw(bench.folder / "grey.tif", 100)
    peak = timed(bench.ours(picture)).peak_mb
    bench.tidy()
    resized = timed(bench.ours(picture, "--long-edge", "35in")).peak_mb
    print(f"grey, 100 megapixels: peak {peak:.0f} MB, resampled {resized:.0f} MB")
    picture.unlink()
    if max(peak, resized) > 200:
        raise SystemExit("more than 200 MB")


CASES: dict[str, Callable[[Bench], None]] = {
    "memory": memory,
    "grey166": lambda bench: grey(bench, 166),
    "grey448": lambda bench: grey(bench, 448),
    "deflate": lambda bench: compressed(bench, 166, "deflate"),
    "lzw": lambda bench: compressed(bench, 166, "lzw"),
    "colour": lambda bench: colour(bench, 41),
    "resampling": resampling,
}


def main() -> None:
    """Run the cases asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", nargs="*", default=list(CASES), choices=list(CASES))
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--rival-python", default=sys.executable)
    parser.add_argument("--folder", help="Where to write; 3 GB are needed.")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=given.folder) as name:
        # All processes start with byte-code at hand, as from an installed package.
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(Path(name) / "byte-code")
        for case in given.cases:
            CASES[case](Bench(Path(name), given.repeats, given.rival_python))
            (Path(name) / "out.tif").unlink(missing_ok=True)


if __name__ == "__main__":
    main()
