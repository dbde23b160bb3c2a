"""Print the oldest release of each dependency that pyproject.toml promises to serve."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads(Path("pyproject.toml").read_text(encoding="utf-8"))["project"]
for requirement in project["dependencies"]:
    name, floor = re.fullmatch(r"([\w-]+)>=([\w.]+)", requirement).groups()
    print(f"{name}=={floor}")
