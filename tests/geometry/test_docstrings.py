"""Every public name says what it takes, in what unit, and what it gives."""

import inspect
import pkgutil
import re
from importlib import import_module

import pytest

import valvetrain.geometry as geometry

MODULES = [
    import_module(f"valvetrain.geometry.{module.name}") for module in pkgutil.iter_modules(geometry.__path__)
]


def _is_ours(thing, module):
    return getattr(thing, "__module__", None) == module.__name__


def _public():
    for module in MODULES:
        for name, thing in vars(module).items():
            if name.startswith("_") or not _is_ours(thing, module):
                continue
            if inspect.isfunction(thing) or inspect.isclass(thing):
                yield thing
            if inspect.isclass(thing):
                yield from (
                    method
                    for key, method in vars(thing).items()
                    if inspect.isfunction(method) and not key.startswith("_")
                )


PUBLIC = list(_public())
FUNCTIONS = [thing for thing in PUBLIC if inspect.isfunction(thing)]


def _documented(thing):
    """The described parameters, each with the whole of its description."""
    section = re.search(r"^Args:\n(.*?)(?=^\S|\Z)", inspect.getdoc(thing) or "", re.S | re.M)
    entries = re.split(r"^ {4}(?=\w)", section[1] if section else "", flags=re.M)[1:]
    return dict(entry.split(": ", 1) for entry in entries)


def _taken(thing):
    return [name for name in inspect.signature(thing).parameters if name != "self"]


def _name(thing):
    return f"{thing.__module__.rsplit('.', 1)[-1]}.{thing.__qualname__}"


def test_there_is_something_to_look_at():
    assert {"arm.arm_angle", "packs.choose_packs", "travel.sweep"} <= {_name(thing) for thing in PUBLIC}


@pytest.mark.parametrize("thing", PUBLIC, ids=_name)
def test_what_is_described_is_what_is_taken(thing):
    assert list(_documented(thing)) == _taken(thing)


@pytest.mark.parametrize("thing", PUBLIC, ids=_name)
def test_everything_taken_has_a_unit(thing):
    for name, description in _documented(thing).items():
        assert re.search(r"\[[^\]]+\]", description), f"{name} has no unit in brackets"


@pytest.mark.parametrize("thing", FUNCTIONS, ids=_name)
def test_a_function_says_what_it_gives_or_refuses(thing):
    assert re.search(r"^(Returns|Raises):$", inspect.getdoc(thing), re.M)


@pytest.mark.parametrize("thing", FUNCTIONS, ids=_name)
def test_a_formula_has_a_worked_example(thing):
    if thing.__qualname__ != thing.__name__:
        return
    assert ">>> " in inspect.getdoc(thing)


@pytest.mark.parametrize("thing", FUNCTIONS, ids=_name)
def test_more_than_two_numbers_are_named(thing):
    # Two numbers and one that may be left out is the most that a hand can keep in order.
    required = [
        parameter
        for parameter in inspect.signature(thing).parameters.values()
        if parameter.kind is parameter.POSITIONAL_OR_KEYWORD
        and parameter.default is parameter.empty
        and parameter.name not in {"self", "arm"}
    ]
    assert len(required) <= 2


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__.rsplit(".", 1)[-1])
def test_the_package_names_its_modules(module):
    assert re.search(rf"^{module.__name__.rsplit('.', 1)[-1]}\s", geometry.__doc__, re.M)
