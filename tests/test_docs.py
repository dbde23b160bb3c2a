"""The README: its commands run as they stand, and it names what there is."""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import typer.main

from negcurve import errors
from negcurve.cli import app
from negcurve.files.tiff import GreyTiffWriter
from negcurve.simulation.scene import coast
from negcurve.simulation.setups import demo_set_up
from negcurve.tasks.simulated import print_file, scan_to_file

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
PRINTED = {"target.tif": "scan.tif", "second.tif": "second-scan.tif"}
"""What the darkroom makes of a target: the scan that the README reads next."""


def blocks(language: str) -> list[str]:
    found = re.findall(rf"^ *```{language}\n(.*?)^ *```", README, re.M | re.S)
    return [str(block) for block in found]


def commands() -> list[list[str]]:
    lines = "".join(blocks("sh")).splitlines()
    words = [shlex.split(line) for line in lines]
    return [each for each in words if each[0] == "negcurve"]


def write_picture(path: Path) -> None:
    tone = coast(width=480, height=360)
    codes = np.rint(tone * 65535).astype(np.uint16)
    with GreyTiffWriter(
        path, width=480, height=360, resolution_ppi=120, description="A coast"
    ) as writer:
        writer.write(codes)


def play_darkroom(folder: Path, target: str) -> None:
    scene = demo_set_up()
    sheet = print_file(scene, folder / target, border_mm=8, seed=len(target))
    scan_to_file(scene, sheet, folder / PRINTED[target], seed=1)


@pytest.mark.slow
def test_the_main_job_runs_as_the_readme_says(tmp_path: Path) -> None:
    write_picture(tmp_path / "picture.tif")
    for words in commands():
        outcome = subprocess.run(
            [sys.executable, "-c", "from negcurve.cli import main; main()", *words[1:]],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=False,
        )
        assert outcome.returncode == 0, f"{words}: {outcome.stderr}"
        if words[1] == "target":
            play_darkroom(tmp_path, words[2])
    for block in blocks("python"):
        code = f"import os; os.chdir({str(tmp_path)!r})\n{block}"
        subprocess.run([sys.executable, "-c", code], check=True)
    assert (tmp_path / "better.json").is_file()
    assert (tmp_path / "negative-2.tif").is_file()


def test_the_readme_names_every_command() -> None:
    named = set(re.findall(r"`negcurve (\w+)", README))
    group = typer.main.get_command(app)
    there = set(group.commands)  # type: ignore[attr-defined]
    assert there - named == set()
    assert named - there == set()


def test_every_command_and_option_has_help_and_examples() -> None:
    group = typer.main.get_command(app)
    for name, command in group.commands.items():  # type: ignore[attr-defined]
        subcommands = getattr(command, "commands", {"": command})
        for each in subcommands.values():
            assert "negcurve " + name in (each.help or ""), f"{name}: no example"
        for each in subcommands.values():
            for parameter in each.params:
                assert getattr(parameter, "help", None), f"{name}: {parameter.name}"


def test_every_exit_code_is_documented() -> None:
    table = README.partition("### Exit codes")[2].partition("##")[0]
    documented = {int(code) for code in re.findall(r"^\| (\d+) \|", table, re.M)}
    raised = {
        kind.exit_code
        for kind in vars(errors).values()
        if isinstance(kind, type) and issubclass(kind, errors.NegcurveError)
    }
    assert documented == raised | {0, 130}
