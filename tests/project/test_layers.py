"""Data flows one way through the package: no part imports one that comes after it."""

from __future__ import annotations

import ast
from collections.abc import Iterator

LAYERS = [
    ["arrays", "errors", "units"],
    ["output", "textfile", "threads"],
    ["survey"],
    ["site"],
    ["surface"],
    ["levels"],
    ["layout"],
    ["measures"],
    ["choose"],
    ["rules"],
    ["bed", "zones"],
    ["run"],
    ["review"],
    ["sheets"],
    ["write"],
    ["cli"],
    ["__main__"],
]
RANK = {part: rank for rank, layer in enumerate(LAYERS) for part in layer}

HEAVY = {
    "PIL",
    "contourpy",
    "ezdxf",
    "laspy",
    "lxml",
    "matplotlib",
    "openpyxl",
    "pyogrio",
    "pyproj",
    "rich",
    "scipy",
    "threadpoolctl",
}
"""Libraries that a function imports when it needs them, so that every command starts at once."""


def imports(tree: ast.AST) -> Iterator[str]:
    """Dotted names of the package's own modules that a tree imports, anywhere in it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.startswith("dripfield."))
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            if node.module == "dripfield":
                yield from (f"dripfield.{a.name}" for a in node.names if a.name != "__version__")
            elif (node.module or "").startswith("dripfield."):
                yield str(node.module)


def at_start(body: list[ast.stmt]) -> Iterator[str]:
    """First parts of the names that a module imports when it is itself imported."""
    for node in body:
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield str(node.module).split(".")[0]
        elif isinstance(node, ast.If) and "TYPE_CHECKING" not in ast.unparse(node.test):
            yield from at_start([*node.body, *node.orelse])
        elif isinstance(node, ast.Try | ast.ClassDef | ast.With):
            yield from at_start(node.body)


def test_every_part_has_its_place(modules: dict[str, ast.Module]) -> None:
    parts = {name.split(".")[1] for name in modules if "." in name}
    assert parts == set(RANK)


def test_no_part_imports_one_after_it(modules: dict[str, ast.Module]) -> None:
    upstream = [
        f"{name} imports {other}"
        for name, tree in modules.items()
        if name != "dripfield"  # the front door, which loads by name and lazily
        for other in imports(tree)
        if RANK[other.split(".")[1]] > RANK[name.split(".")[1]]
    ]
    assert upstream == []


def test_parts_of_one_layer_do_not_import_each_other(modules: dict[str, ast.Module]) -> None:
    sideways = [
        f"{name} imports {other}"
        for name, tree in modules.items()
        if name != "dripfield"
        for other in imports(tree)
        if other.split(".")[1] != name.split(".")[1]
        and RANK[other.split(".")[1]] == RANK[name.split(".")[1]]
    ]
    assert sideways == []


def test_only_the_choice_uses_the_engine(modules: dict[str, ast.Module]) -> None:
    """Whoever judges or draws a layout sees its lines alone, never how they were made."""
    users = {
        name
        for name, tree in modules.items()
        if not name.startswith("dripfield.layout")
        for other in imports(tree)
        if other.startswith("dripfield.layout") and other != "dripfield.layout.model"
    }
    assert users == {"dripfield.choose"}


def test_heavy_libraries_wait_until_they_are_needed(modules: dict[str, ast.Module]) -> None:
    early = {
        name: found for name, tree in modules.items() if (found := HEAVY & set(at_start(tree.body)))
    }
    assert early == {}
