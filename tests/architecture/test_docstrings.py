"""Public functions of the physics state the unit of every parameter and of what they return."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re

import pytest

import ridesim.components
import ridesim.environment
import ridesim.mechanics

PURE = [
    "ridesim.mechanics.drivetrain",
    "ridesim.mechanics.equations",
    "ridesim.mechanics.fuel",
    "ridesim.components.steering",
]


PACKAGES = (ridesim.components, ridesim.environment, ridesim.mechanics)
FILES = [info.name for one in PACKAGES for info in pkgutil.iter_modules(one.__path__, one.__name__ + ".")]
FUNCTIONS = [
    pytest.param(function, id=f"{file.removeprefix('ridesim.')}.{name}")
    for file in FILES
    for name, function in inspect.getmembers(importlib.import_module(file), inspect.isfunction)
    if function.__module__ == file and not name.startswith("_")
]


@pytest.mark.parametrize("function", FUNCTIONS)
def test_it_says_what_it_does(function):
    text = inspect.getdoc(function) or ""
    assert text and text[0].isupper(), "a public function says what it gives"


@pytest.mark.parametrize("function", [p for p in FUNCTIONS if p.values[0].__module__ in PURE])
def test_an_equation_names_every_parameter_its_unit_and_an_example(function):
    text = inspect.getdoc(function) or ""
    for name in inspect.signature(function).parameters:
        assert re.search(rf"\b{name}\b", text), f"parameter {name} is not described"
    assert "Parameters" in text and "Returns" in text and "Examples" in text
    returned = text.split("Returns")[1].split("Examples")[0]
    assert re.search(r"\[[^\]]+\]", returned), "no unit of what is returned"
