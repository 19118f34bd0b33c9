"""Data flows one way through the package: no part imports one that comes after it."""

from __future__ import annotations

import ast
from collections.abc import Iterator

LAYERS = [
    "core",
    "formats",
    "site",
    "survey",
    "ground",
    "layout",
    "measures",
    "bed",
    "design",
    "rules",
    "zones",
    "hydraulics",
    "distribution",
    "preparation",
    "staking",
    "crew",
    "review",
    "files",
    "sheets",
    "outputs",
    "cli",
    "__main__",
]
RANK = {part: rank for rank, part in enumerate(LAYERS)}
SIMULATES = {"measures": {"layout"}, "hydraulics": {"zones"}, "crew": {"staking"}}
"""Who measures or simulates, and whose data alone (``model``) it may know of what it judges."""

HEAVY = {
    "PIL",
    "contourpy",
    "epanet",
    "ezdxf",
    "laspy",
    "lxml",
    "matplotlib",
    "openpyxl",
    "pyogrio",
    "pypdfium2",
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


def folder(name: str, modules: dict[str, ast.Module]) -> str:
    """The folder that a module lies in; a package lies in itself."""
    package = any(other.startswith(f"{name}.") for other in modules)
    return name if package else name.rpartition(".")[0]


def arrows(modules: dict[str, ast.Module]) -> set[tuple[str, str]]:
    """Which folder imports from which; the front door, which loads by name and lazily, left out."""
    found = set()
    for name, tree in modules.items():
        if name in ("dripfield", "dripfield.__main__"):
            continue
        for other in imports(tree):
            here, there = folder(name, modules), folder(other, modules)
            if here != there and there != "dripfield":
                found.add((here, there))
    return found


def test_every_part_has_its_place(modules: dict[str, ast.Module]) -> None:
    parts = {name.split(".")[1] for name in modules if "." in name}
    assert parts <= set(RANK)


def test_no_part_imports_one_after_it(modules: dict[str, ast.Module]) -> None:
    upstream = [
        f"{name} imports {other}"
        for name, tree in modules.items()
        if name != "dripfield"
        for other in imports(tree)
        if RANK[other.split(".")[1]] > RANK[name.split(".")[1]]
    ]
    assert upstream == []


def test_no_folders_go_in_a_circle(modules: dict[str, ast.Module]) -> None:
    """Subfolders too: a folder that can be reached from itself is named with its way round."""
    onward: dict[str, set[str]] = {}
    for here, there in arrows(modules):
        onward.setdefault(here, set()).add(there)
    circles = []
    for start in sorted(onward):
        ways = [[start]]
        seen = set()
        while ways:
            way = ways.pop()
            for there in sorted(onward.get(way[-1], ())):
                if there == start:
                    circles.append(" -> ".join([*way, start]))
                elif there not in seen:
                    seen.add(there)
                    ways.append([*way, there])
    assert circles == []


def test_a_circle_would_be_found(modules: dict[str, ast.Module]) -> None:
    made_up = {
        "dripfield.a.one": ast.parse("from dripfield.a.b.two import x"),
        "dripfield.a": ast.parse(""),
        "dripfield.a.b": ast.parse(""),
        "dripfield.a.b.two": ast.parse("from dripfield.a.three import y"),
        "dripfield.a.three": ast.parse(""),
    }
    assert arrows(made_up) == {
        ("dripfield.a", "dripfield.a.b"),
        ("dripfield.a.b", "dripfield.a"),
    }


def test_who_judges_shares_no_code_with_who_makes(modules: dict[str, ast.Module]) -> None:
    shared = [
        f"{name} imports {other}"
        for name, tree in modules.items()
        for judge, makers in SIMULATES.items()
        if name.startswith(f"dripfield.{judge}")
        for other in imports(tree)
        if other.split(".")[1] in makers and other.split(".")[2:] != ["model"]
    ]
    assert shared == []


def test_only_the_choice_uses_the_engine(modules: dict[str, ast.Module]) -> None:
    """Whoever judges or draws a layout sees its lines alone, never how they were made."""
    users = {
        name
        for name, tree in modules.items()
        if not name.startswith("dripfield.layout.")
        for other in imports(tree)
        if other.startswith("dripfield.layout.") and other != "dripfield.layout.model"
    }
    assert users == {"dripfield.design.candidates"}


def test_heavy_libraries_wait_until_they_are_needed(modules: dict[str, ast.Module]) -> None:
    early = {
        name: found for name, tree in modules.items() if (found := HEAVY & set(at_start(tree.body)))
    }
    assert early == {}
