"""Three floors, and no stairs but those drawn: geometry knows nobody, builds never knows valvetrain."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

BASE = Path(__file__).resolve().parent.parent


def imported_by(source: str) -> Iterator[str]:
    """Every module that a source text imports, inside functions and by a written name too."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "a relative import hides which floor it leads to"
            yield node.module or ""
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call) and _names_an_import(node.func):
            yield from (
                argument.value
                for argument in node.args
                if isinstance(argument, ast.Constant) and isinstance(argument.value, str)
            )


def _names_an_import(function: ast.expr) -> bool:
    name = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
    return name in {"import_module", "__import__", "import_string", "get_model", "include"}


def offences(folder: str, *forbidden: str) -> list[str]:
    """Imports below a folder that lead to a forbidden package, as `file: module`."""
    return [
        f"{path.relative_to(BASE)}: {module}"
        for path in sorted((BASE / folder).rglob("*.py"))
        for module in imported_by(path.read_text(encoding="utf-8"))
        if module.split(".")[0] in forbidden
    ]


@pytest.mark.parametrize(
    "source",
    [
        "import valvetrain",
        "from valvetrain.models import Head",
        "def f():\n    from valvetrain import targets",
        "import importlib\nimportlib.import_module('valvetrain.demo')",
        "from django.apps import apps\napps.get_model('valvetrain.Head')",
    ],
)
def test_no_way_of_importing_escapes_the_reader(source: str) -> None:
    assert any(module.split(".")[0] == "valvetrain" for module in imported_by(source))


def test_geometry_imports_neither_django_nor_the_other_floors() -> None:
    assert offences("valvetrain/geometry", "django", "builds") == []


def test_geometry_stays_within_its_own_folder() -> None:
    above = [
        line
        for line in offences("valvetrain/geometry", "valvetrain")
        if not line.split(": ")[1].startswith("valvetrain.geometry")
    ]
    assert above == []


def test_the_ground_floor_never_imports_valvetrain() -> None:
    # The root of the addresses names the upper floor's; the list of apps in the settings does so in words.
    assert offences("builds", "valvetrain") == ["builds/urls.py: valvetrain.urls"]


def test_setting_up_needs_nothing_but_python() -> None:
    outside = {
        module.split(".")[0]
        for module in imported_by((BASE / "builds/setting_up.py").read_text(encoding="utf-8"))
    } - set(sys.stdlib_module_names)
    # Those two are imported inside the functions that run once the environment stands.
    assert outside == {"pytest", "django"}


def test_geometry_loads_in_a_clean_process_without_django() -> None:
    names = [path.stem for path in (BASE / "valvetrain/geometry").glob("*.py") if path.stem != "__init__"]
    script = "import sys, importlib\n"
    script += f"for name in {names!r}: importlib.import_module('valvetrain.geometry.' + name)\n"
    script += "print(sorted({m.split('.')[0] for m in sys.modules} & {'django', 'builds'}))"
    ran = subprocess.run([sys.executable, "-c", script], cwd=BASE, capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
