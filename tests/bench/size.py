"""How large the house is: ``python -m tests.bench.size``.

A line of code is a line with a token that is neither comment nor docstring. Exit code 1 when there
are more of them than the house may have, or a function has more than seven parameters.
"""

from __future__ import annotations

import ast
import io
import sys
import tokenize
from collections import Counter
from pathlib import Path

from tests.bench import ledger

PACKAGE = Path(__file__).parents[2] / "calib"
MOST_LINES = 26_000
MOST_PARAMETERS = 7
SILENT = {
    tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT,
    tokenize.ENCODING, tokenize.ENDMARKER,
}  # fmt: skip


def main() -> int:
    """Count and print; the exit code."""
    texts = {path: path.read_text(encoding="utf-8") for path in sorted(PACKAGE.rglob("*.py"))}
    trees = {path: ast.parse(text) for path, text in texts.items()}
    lines = Counter[str]()
    for path, text in texts.items():
        place = path.relative_to(PACKAGE)
        lines[place.parts[0]] += len(code_lines(text, trees[path]))
    importers = Counter(name for tree in trees.values() for name in imported(tree))
    lone = sum(1 for path in texts if importers[dotted(path)] == 1)
    crowded = [
        f"{path.relative_to(PACKAGE)}: {function.name}"
        for path, tree in trees.items()
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef) and parameters(function) > MOST_PARAMETERS
    ]
    total = sum(lines.values())
    met = total <= MOST_LINES and not crowded
    rows = [(room, f"{count:,}") for room, count in lines.most_common()]
    said = (
        f"{len(texts)} modules, {lone} of them with one importer; {total:,} lines of code, at most "
        f"{MOST_LINES:,}; {len(crowded)} functions with more than {MOST_PARAMETERS} parameters, "
        f"commands of click aside; {'met' if met else 'MISSED'}."
    )
    named = "".join(f"\n- {each}" for each in crowded)
    body = f"{said}\n{named}\n\n{ledger.table(('room', 'lines of code'), rows)}"
    sys.stdout.write(f"{body}\n")
    return 0 if met else 1


def code_lines(text: str, tree: ast.Module) -> set[int]:
    """Numbers of the lines that hold code."""
    held = {
        line
        for token in tokenize.generate_tokens(io.StringIO(text).readline)
        if token.type not in SILENT
        for line in range(token.start[0], token.end[0] + 1)
    }
    return held - {line for said in docstrings(tree) for line in said}


def docstrings(tree: ast.Module) -> list[range]:
    """Lines of every string that stands alone: docstrings, of attributes and constants too."""
    return [
        range(node.lineno, (node.end_lineno or node.lineno) + 1)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    ]


def imported(tree: ast.Module) -> set[str]:
    """Modules that one imports, by dotted name; a package's names count for their module."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module is not None:
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
    return names


def dotted(path: Path) -> str:
    """A module's name, as an import says it."""
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def parameters(function: ast.FunctionDef) -> int:
    """How many parameters a function has; a click command has one an option and does not count."""
    marks = [ast.unparse(mark) for mark in function.decorator_list]
    if any(mark.startswith(("click.", "shared", "as_command")) for mark in marks):
        return 0
    names = [*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs]
    return sum(name.arg not in ("self", "cls") for name in names)


if __name__ == "__main__":
    sys.exit(main())
