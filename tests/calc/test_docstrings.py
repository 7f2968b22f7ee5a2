"""Examples in the docstrings run, and every public function says what it takes, gives and refuses."""

import ast
import doctest
import importlib
import pkgutil
from pathlib import Path

import pytest

import breakin.calc

MODULES = sorted(info.name for info in pkgutil.walk_packages(breakin.calc.__path__, "breakin.calc."))


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_run(name):
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0


def test_there_are_examples_to_run():
    tried = sum(doctest.testmod(importlib.import_module(name)).attempted for name in MODULES)
    assert tried > 40


@pytest.mark.parametrize("name", MODULES)
def test_public_functions_and_classes_are_explained(name):
    path = Path(str(importlib.import_module(name).__file__))
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            assert ast.get_docstring(node), f"{name}.{node.name}"
