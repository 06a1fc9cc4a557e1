"""The architecture, enforced: who may import whom, frozen values, no globals, size ratchets."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ROOMS = [
    "model", "display", "hand", "edit", "insight", "setting", "page", "sound", "formats", "teach",
    "kit", "store",
]  # fmt: skip
# A room imports only rooms above it; the kit writes what formats, page and sound compute.
FILES = sorted(p for top in ("core", "app", "resources") for p in (ROOT / top).rglob("*.py"))
DEVICE_MODULES = {"rtmidi", "PySide6.QtMultimedia"}
LAZY = {"music21": ("core/insight", "core/formats")}
# Ratchets: lengths that are over the limit, each with its present length. They may only shrink.
LONG_MODULES: dict[str, int] = {}
LONG_FUNCTIONS: dict[str, int] = {}
MODULE_LIMIT = 500
FUNCTION_LIMIT = 40


def relative(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def imports(tree: ast.AST) -> list[tuple[str, int, bool]]:
    """(module, line, at module level) of every import."""
    top = set(ast.iter_child_nodes(tree))
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno, node in top) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the room"
            base = node.module or ""
            found.append((base, node.lineno, node in top))
            found += [(f"{base}.{a.name}", node.lineno, node in top) for a in node.names]
    return found


@pytest.fixture(scope="module")
def trees() -> dict[str, ast.Module]:
    return {relative(p): ast.parse(p.read_text("utf-8")) for p in FILES}


def test_rooms_import_only_rooms_above_them(trees):
    for name, tree in trees.items():
        if not name.startswith("core/") or name.count("/") < 2:
            continue
        own = name.split("/")[1]
        assert own in ROOMS, f"{name}: a room the list does not know"
        for module, line, _ in imports(tree):
            parts = module.split(".")
            if parts[0] == "core" and len(parts) > 1 and parts[1] in ROOMS:
                assert ROOMS.index(parts[1]) <= ROOMS.index(own), f"{name}:{line} imports {module}"


def test_core_knows_neither_qt_nor_the_app(trees):
    for name, tree in trees.items():
        if name.startswith("core/"):
            for module, line, _ in imports(tree):
                assert module.split(".")[0] not in ("PySide6", "app"), f"{name}:{line} {module}"


def test_heavy_and_device_modules_stay_in_their_rooms(trees):
    for name, tree in trees.items():
        for module, line, at_top in imports(tree):
            for heavy, rooms in LAZY.items():
                if module.split(".")[0] == heavy:
                    assert name.startswith(rooms), f"{name}:{line} imports {module}"
                    assert not at_top, f"{name}:{line} must import {module} lazily"
            if any(module.startswith(device) for device in DEVICE_MODULES):
                assert name.startswith("app/listening"), f"{name}:{line} imports {module}"


def test_model_and_display_values_are_frozen(trees):
    for name, tree in trees.items():
        if not name.startswith(("core/model/", "core/display/items")):
            continue
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef) and any(
                isinstance(base, ast.Name) and base.id == "Struct" for base in node.bases
            ):
                frozen = {k.arg: ast.unparse(k.value) for k in node.keywords}
                assert frozen.get("frozen") == "True", f"{name}: {node.name} is not frozen"


def test_nothing_is_global(trees):
    for name, tree in trees.items():
        for node in ast.walk(tree):
            assert not isinstance(node, ast.Global), f"{name}:{node.lineno} uses global"


def test_modules_and_functions_stay_short(trees):
    modules = {relative(p): len(p.read_text("utf-8").splitlines()) for p in FILES}
    check_ratchet({n: k for n, k in modules.items() if k > MODULE_LIMIT}, LONG_MODULES)
    functions = {
        f"{name}:{node.name}": node.end_lineno - node.lineno + 1
        for name, tree in trees.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    check_ratchet({n: k for n, k in functions.items() if k > FUNCTION_LIMIT}, LONG_FUNCTIONS)


def check_ratchet(found: dict[str, int], allowed: dict[str, int]) -> None:
    grown = {n: k for n, k in found.items() if k > allowed.get(n, 0)}
    assert not grown, f"longer than allowed: {grown}"
    loose = {n: k for n, k in allowed.items() if found.get(n, 0) < k}
    assert not loose, f"these have become shorter, tighten the ratchet: {loose}"
