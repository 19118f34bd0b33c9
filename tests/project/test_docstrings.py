"""Docstrings tell the truth: parameters as in the signature, returns and errors as in the code."""

from __future__ import annotations

import ast
import builtins
import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from dripfield.core import errors

ORDER = ["Parameters", "Attributes", "Returns", "Yields", "Raises", "Notes", "Examples"]
HEADING = re.compile(r"^([A-Z][A-Za-z ]*)\n(-{3,})$", re.MULTILINE)


@dataclass(frozen=True)
class Described:
    """A public function, or a class by its ``__init__``, with its docstring."""

    name: str
    node: ast.FunctionDef
    text: str
    bound: bool

    @property
    def sections(self) -> dict[str, str]:
        """Text of each section under its heading."""
        found = list(HEADING.finditer(self.text))
        ends = [match.start() for match in found[1:]] + [len(self.text)] * bool(found)
        return {
            match[1]: self.text[match.end() : end] for match, end in zip(found, ends, strict=True)
        }

    @property
    def parameters(self) -> list[str]:
        """Names in the signature, without ``self``."""
        of = self.node.args
        names = [argument.arg for argument in of.posonlyargs + of.args]
        if self.bound:
            names = names[1:]
        names += [of.vararg.arg] if of.vararg else []
        names += [argument.arg for argument in of.kwonlyargs]
        return names + ([of.kwarg.arg] if of.kwarg else [])

    @property
    def gives_nothing(self) -> bool:
        """Annotated to return None."""
        return self.node.returns is None or ast.unparse(self.node.returns) == "None"

    @property
    def refuses(self) -> bool:
        """Raises an error for the person at the keyboard in its own body."""
        return any(
            isinstance(node, ast.Raise)
            and isinstance(node.exc, ast.Call)
            and ast.unparse(node.exc.func) in ("input_error", "InputError", "DripfieldError")
            for node in ast.walk(self.node)
        )


def entries(section: str) -> list[str]:
    """Names that a section lists, one or several to a line."""
    lines = [line for line in section.splitlines() if line and not line.startswith(" ")]
    return [name.strip().lstrip("*") for line in lines for name in line.split(" :")[0].split(",")]


def public(tree: ast.AST, prefix: str, owner: ast.ClassDef | None = None) -> Iterator[Described]:
    """Every public function, method and class with an ``__init__`` of a module."""
    for node in getattr(tree, "body", []):
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            made = [
                one
                for one in node.body
                if isinstance(one, ast.FunctionDef) and one.name == "__init__"
            ]
            if made:
                yield Described(
                    f"{prefix}.{node.name}", made[0], ast.get_docstring(node) or "", True
                )
            yield from public(node, f"{prefix}.{node.name}", node)
        elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            static = any(ast.unparse(mark) == "staticmethod" for mark in node.decorator_list)
            text = inspect.cleandoc(ast.get_docstring(node) or "")
            yield Described(f"{prefix}.{node.name}", node, text, owner is not None and not static)


@pytest.fixture(scope="module")
def functions(modules: dict[str, ast.Module]) -> list[Described]:
    return [one for name, tree in modules.items() for one in public(tree, name)]


def test_there_are_many(functions: list[Described]) -> None:
    assert len(functions) > 500


def test_modules_classes_and_functions_have_one(
    modules: dict[str, ast.Module], functions: list[Described]
) -> None:
    bare = [name for name, tree in modules.items() if not ast.get_docstring(tree)]
    bare += [one.name for one in functions if not one.text]
    bare += [
        f"{name}.{node.name}"
        for name, tree in modules.items()
        for node in tree.body
        if isinstance(node, ast.ClassDef)
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
    ]
    assert bare == []


def test_parameters_are_those_of_the_signature(functions: list[Described]) -> None:
    wrong = [
        (one.name, entries(one.sections["Parameters"]), one.parameters)
        for one in functions
        if "Parameters" in one.sections and entries(one.sections["Parameters"]) != one.parameters
    ]
    assert wrong == []


def test_three_arguments_or_more_are_described(functions: list[Described]) -> None:
    bare = [
        one.name
        for one in functions
        if len(one.parameters) >= 3
        and "Parameters" not in one.sections
        and one.node.name != "command"  # click shows the help of each option
    ]
    assert bare == []


def test_sections_have_known_headings_in_order(functions: list[Described]) -> None:
    for one in functions:
        headings = list(one.sections)
        assert set(headings) <= set(ORDER), one.name
        assert headings == sorted(headings, key=ORDER.index), one.name
        for match in HEADING.finditer(one.text):
            assert len(match[1]) == len(match[2]), one.name


def test_returns_is_there_when_something_is_returned(functions: list[Described]) -> None:
    said = {one.name: bool({"Returns", "Yields"} & set(one.sections)) for one in functions}
    too_much = [one.name for one in functions if said[one.name] and one.gives_nothing]
    too_little = [
        one.name
        for one in functions
        if "Parameters" in one.sections and not (said[one.name] or one.gives_nothing)
    ]
    assert (too_much, too_little) == ([], [])


def test_refusals_are_listed_and_exist(functions: list[Described]) -> None:
    unknown, unsaid = [], []
    for one in functions:
        listed = entries(one.sections.get("Raises", ""))
        unknown += [
            (one.name, name)
            for name in listed
            if not (hasattr(errors, name) or hasattr(builtins, name))
        ]
        unsaid += [one.name] if one.refuses and not listed else []
    assert (unknown, unsaid) == ([], [])
