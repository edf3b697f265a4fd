"""Imports point downwards, physics does no input or output, and starting stays light."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.layers import BELOW

PACKAGE = Path(__file__).parent.parent / "sigsim"

PURE = {"physics", "layout", "items", "metrics", "states", "decide"}
IO_MODULES = {"os", "sys", "io", "pathlib", "subprocess", "shutil", "tempfile", "click", "rich",
              "matplotlib", "socket", "urllib", "logging"}  # fmt: skip
IO_CALLS = {"open", "print", "input", "exec", "eval"}


def modules() -> list[Path]:
    return sorted(p for p in PACKAGE.rglob("*.py") if p.parent != PACKAGE or room(p) in BELOW)


def room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _imports(tree: ast.AST) -> Iterator[str]:
    """Yield the modules a file imports when it runs; imports for type checkers do not count."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            yield from (f"{module}.{alias.name}" for alias in node.names)
        yield from _imports(node)


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_downwards(path: Path) -> None:
    mine = room(path)
    for name in _imports(ast.parse(path.read_text())):
        if name.startswith("sigsim."):
            other = name.split(".")[1]
            if other in BELOW:
                assert other == mine or other in BELOW[mine], f"{path.name} imports {name}"


@pytest.mark.parametrize(
    "path", [p for p in modules() if room(p) in PURE], ids=lambda p: str(p.relative_to(PACKAGE))
)
def test_pure_rooms_do_no_input_or_output(path: Path) -> None:
    tree = ast.parse(path.read_text())
    assert not {name.split(".")[0] for name in _imports(tree)} & IO_MODULES
    called = {
        node.func.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not called & IO_CALLS


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_modules_stay_readable(path: Path) -> None:
    assert len(path.read_text().splitlines()) <= 320


def _loaded_after(code: str) -> set[str]:
    script = f"import sys\n{code}\nprint(' '.join(m for m in sys.modules if '.' not in m))"
    return set(subprocess.check_output([sys.executable, "-c", script], text=True).split())


def test_import_sigsim_loads_nothing_heavy() -> None:
    assert not _loaded_after("import sigsim") & {"matplotlib", "scipy", "click", "rich", "numpy"}
    used = "import sigsim; sigsim.read_board; sigsim.response; sigsim.metrics; sigsim.worst"
    assert not _loaded_after(used) & {"matplotlib", "scipy", "click", "rich"}


def test_help_loads_no_numpy() -> None:
    code = "import sigsim.cli.main as m\ntry: m.cli(['--help'])\nexcept SystemExit: pass"
    assert not _loaded_after(code) & {"numpy", "matplotlib", "scipy", "rich"}


def test_loss_loads_no_scipy_and_no_matplotlib() -> None:
    board = PACKAGE / "board" / "demo.toml"
    code = (
        f"import sigsim.cli.commands.loss as m\nm.command.main([{str(board)!r}], standalone_mode=0)"
    )
    assert not _loaded_after(code) & {"scipy", "matplotlib"}
