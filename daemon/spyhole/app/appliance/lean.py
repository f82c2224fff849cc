"""Lets a version's libraries be loaded without what only a reader of their source wants: their docstrings.

A watch holds its libraries for years, and their docstrings are two MiB of them. Asserts and line numbers stay, as they
would not with python -OO. spyhole's own are kept: the description of the interface is made of them.

Run by the version's own python: python -m spyhole.app.appliance.lean
"""

import ast
import importlib.util
import marshal
import struct
import sysconfig
from pathlib import Path

LIBRARIES = (
    "anyio", "apscheduler", "click", "fastapi", "h11", "opentelemetry", "pydantic", "pydantic_core", "sqlalchemy",
    "starlette", "uvicorn",
)  # fmt: skip
"""What a steady watch has loaded."""

_BY_TIME = 0
"""Of a .pyc: Python holds it to the time and length of its source, as any other (PEP 552)."""


def lean(folder: Path) -> int:
    """Compile every module of a package anew; how many. One that is not understood is left to Python."""
    count = 0
    for path in sorted(folder.rglob("*.py")):
        stat = path.stat()
        try:
            code = compile(without_docstrings(path.read_bytes()), path, "exec", dont_inherit=True)
        except (SyntaxError, ValueError):
            continue
        made = Path(importlib.util.cache_from_source(str(path), optimization=""))
        made.parent.mkdir(exist_ok=True)
        head = struct.pack("<III", _BY_TIME, int(stat.st_mtime) & 0xFFFFFFFF, stat.st_size & 0xFFFFFFFF)
        made.write_bytes(importlib.util.MAGIC_NUMBER + head + marshal.dumps(code))
        count += 1
    return count


def without_docstrings(source: bytes) -> ast.Module:
    """The module, with nothing said where something was explained."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and (
            ast.get_docstring(node, clean=False) is not None
        ):
            explained = node.body.pop(0)
            if not node.body and not isinstance(node, ast.Module):
                node.body.append(ast.copy_location(ast.Pass(), explained))
    return tree


if __name__ == "__main__":
    libraries = Path(sysconfig.get_path("purelib"))
    for name in LIBRARIES:
        lean(libraries / name)
