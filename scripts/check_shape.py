"""Check that code stays small enough to read: sizes of functions and modules, and what the core imports.

A function may have 50 lines, a module under src 400. An exception states its reason on the line:
`def f() -> None:  # shape: a table reads better whole`; for a module, on one of its first three lines.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

SRC = Path(__file__).resolve().parent.parent / "src"
CORE = SRC / "thawline" / "core"
FUNCTION_LINES = 50
MODULE_LINES = 400
CORE_MAY_IMPORT = {"thawline", "msgspec", "tzdata"} | sys.stdlib_module_names
REASON = re.compile(r"#\s*shape:\s*\S+")


def long_functions(tree: ast.Module, lines: list[str]) -> Iterator[tuple[int, str]]:
    """Functions with too many lines, without a reason."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        length = (node.end_lineno or node.lineno) - node.lineno + 1
        signature = lines[node.lineno - 1 : node.body[0].lineno]
        if length > FUNCTION_LINES and not any(map(REASON.search, signature)):
            yield node.lineno, f"{node.name} has {length} lines, {FUNCTION_LINES} are allowed"


def long_module(lines: list[str]) -> Iterator[tuple[int, str]]:
    """The module itself, where it has too many lines without a reason."""
    if len(lines) > MODULE_LINES and not any(map(REASON.search, lines[:3])):
        yield 1, f"the module has {len(lines)} lines, {MODULE_LINES} are allowed"


def undescribed(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """The module itself, where it does not open with a sentence."""
    if not ast.get_docstring(tree):
        yield 1, "the module does not open with a sentence"


def outside_imports(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Imports that the core may not have."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and not node.level:
            names = [node.module or ""]
        else:
            continue
        for name in names:
            if name.partition(".")[0] not in CORE_MAY_IMPORT:
                yield node.lineno, f"the core imports {name}; only msgspec and tzdata may enter"


def faults(path: Path) -> Iterator[str]:
    """What is wrong with one module, each as `path:line: text`."""
    text = path.read_text(encoding="utf-8")
    tree, lines = ast.parse(text), text.splitlines()
    found = [*long_module(lines), *undescribed(tree), *long_functions(tree, lines)]
    if path.is_relative_to(CORE):
        found += outside_imports(tree)
    for line, says in found:
        yield f"{path.relative_to(SRC.parent)}:{line}: {says}"


def main() -> int:
    """Print every fault; 1 where there is one."""
    modules = sorted(SRC.rglob("*.py"))
    found = [fault for path in modules for fault in faults(path)]
    print("\n".join(found) or f"shape: {len(modules)} modules, all within their limits")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
