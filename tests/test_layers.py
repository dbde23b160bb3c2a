"""The rooms of the package, and who may import whom."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import negcurve

PACKAGE = Path(negcurve.__file__).parent

# From the ground up: a room may import only from rooms named before it, and itself.
ROOMS = (
    "late",
    "errors",
    "values",
    "density",
    "spectra",
    "encoding",
    "readings",
    "curves",
    "target",
    "reading",
    "response",
    "darkroom",
    "watch",
    "files",
    "record",
    "negative",
    "simulation",
    "plots",
    "report",
    "tasks",
    "cli",
)

NARROW = {"simulation": {"errors", "values", "density", "simulation"}}
"""Rooms that may import less than their place allows."""

HEAVY = {"matplotlib": {"plots"}, "typer": {"cli"}, "rich": {"cli"}}
"""Libraries that only some rooms may load."""

LATE_ALLOWED = {"cli", "tasks", "__init__"}
"""Rooms whose function bodies may import."""


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def imports(path: Path) -> Iterator[tuple[str, int, bool]]:
    """Yield module, line and whether the import stands inside a function."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    inside = {
        id(node)
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef)
        for node in ast.walk(function)
    }
    for node in ast.walk(tree):
        late = id(node) in inside
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}:{node.lineno}: relative import"
            yield node.module or "", node.lineno, late
            if node.module == "negcurve":
                for name in node.names:
                    yield f"negcurve.{name.name}", node.lineno, late
        elif isinstance(node, ast.Import):
            for name in node.names:
                yield name.name, node.lineno, late


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_towards_the_ground(path: Path) -> None:
    room = room_of(path)
    if room == "__init__":
        return
    assert room in ROOMS, f"{room} has no place in the list of rooms"
    allowed = NARROW.get(room, set(ROOMS[: ROOMS.index(room) + 1]))
    for module, line, late in imports(path):
        top, _, rest = module.partition(".")
        if top == "negcurve" and rest and rest.partition(".")[0] != "__version__":
            assert rest.partition(".")[0] in allowed, f"line {line}: {module}"
        for library, rooms in HEAVY.items():
            assert top != library or room in rooms, f"line {line}: {module}"
        assert not late or room in LATE_ALLOWED, f"line {line}: late import"


def test_every_room_has_its_place_and_none_stands_empty() -> None:
    found = {room_of(path) for path in modules()} - {"__init__"}
    assert found <= set(ROOMS)
    for folder in PACKAGE.iterdir():
        if folder.is_dir() and (folder / "__init__.py").exists():
            assert any(p.name != "__init__.py" for p in folder.rglob("*.py")), folder
