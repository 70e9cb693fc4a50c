"""Pure rooms stay pure: no clock, no port, no disk, no page. So a changed wall clock cannot change an exposure.

Each room may import what its row names and nothing else. Everything a pure room knows comes in as an argument.
"""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HOST, DEVICE = ROOT / "host" / "lampwarden", ROOT / "device" / "lampboard"

LANGUAGE = {"collections.abc", "dataclasses", "enum", "functools", "math", "re", "typing"}
DIALOGUE = LANGUAGE | {
    "contextlib", "lampboard.registers", "lampwarden.bench.dialogue", "lampwarden.bench.steps", "lampwarden.domain",
    "lampwarden.errors", "lampwarden.link.board",
}  # fmt: skip
"""Of the link only what a board is asked and says, as values."""
PURE = {
    HOST / "errors.py": LANGUAGE,
    HOST / "domain": LANGUAGE
    # A day and a time of day are values; now() is not among them by these names.
    | {"datetime.date", "datetime.time", "pydantic", "tomllib", "tomlkit", "lampwarden.domain", "lampwarden.errors"},
    HOST / "light": LANGUAGE
    | {"itertools", "numpy", "scipy", "lampwarden.domain", "lampwarden.errors", "lampwarden.light"},
    HOST / "care": LANGUAGE
    | {"numpy", "lampwarden.domain", "lampwarden.errors", "lampwarden.light", "lampwarden.care"},
    HOST / "colour": {"numpy", "lampwarden.colour"},
    # A random.Random with a seed is a formula like any other; the module's own functions would not be.
    HOST / "trial": LANGUAGE
    | {"random.Random", "numpy", "scipy", "lampwarden.domain", "lampwarden.errors"}
    | {"lampwarden.light", "lampwarden.care", "lampwarden.trial"},
    HOST / "findings": LANGUAGE
    | {"itertools", "numpy", "scipy", "lampwarden.domain", "lampwarden.errors"}
    | {"lampwarden.light.evidence", "lampwarden.light.roots"}
    | {"lampwarden.colour", "lampwarden.trial", "lampwarden.findings"},
    # A start comes in as a value; CLOCKS below finds whoever asks for another.
    HOST / "planning": LANGUAGE
    | {"datetime.datetime", "pydantic", "lampwarden.domain", "lampwarden.errors", "lampwarden.light"}
    | {"lampwarden.care", "lampwarden.trial", "lampwarden.timeline", "lampwarden.planning"},
    HOST / "timeline": LANGUAGE | {"bisect", "datetime", "itertools", "lampwarden.domain", "lampwarden.timeline"},
    HOST / "engine": LANGUAGE | {"lampwarden.domain", "lampwarden.engine", "lampwarden.errors", "lampwarden.light"},
    HOST / "starts" / "lines.py": LANGUAGE
    | {"datetime.datetime", "lampwarden.care", "lampwarden.domain", "lampwarden.errors", "lampwarden.planning"}
    | {"lampwarden.keeper.preflight.PreflightLine", "lampwarden.store.records.Line"}
    | {"lampwarden.starts.confirmed"},
    HOST / "starts" / "confirmed.py": LANGUAGE,
    HOST / "keeper" / "preflight.py": LANGUAGE
    | {"lampwarden.domain", "lampwarden.engine.holds", "lampwarden.keeper.snapshot"}
    | {"lampwarden.link.board.Identity", "lampwarden.link.board.Live"},
    HOST / "mask" / "geometry.py": LANGUAGE | {"hashlib", "pydantic", "lampwarden.domain"},
    HOST / "mask" / "layout.py": LANGUAGE | {"lampwarden.domain", "lampwarden.errors", "lampwarden.mask"},
    HOST / "mask" / "lettering.py": {"reportlab.pdfbase.pdfmetrics"},
    HOST / "mask" / "notes.py": LANGUAGE | {"lampwarden.mask"},
    HOST / "mask" / "drawing.py": LANGUAGE | {"itertools", "lampwarden.mask"},
    **{HOST / "bench" / f"{name}.py": DIALOGUE for name in ("dialogue", "steps", "check")},
    HOST / "rig" / "design.py": LANGUAGE,
    HOST / "rig" / "plant.py": LANGUAGE | {"numpy", "lampwarden.domain", "lampwarden.rig.design"},
    DEVICE / "registers.py": set(),
    DEVICE / "rtu.py": {"struct", "lampboard.registers"},
    DEVICE / "guard.py": {"lampboard.registers", "lampboard.rtu"},
    DEVICE / "sensors" / "ntc.py": {"math", "lampboard.registers"},
}
DOORS = {"open", "print", "input", "exec", "eval", "compile", "__import__", "breakpoint"}
"""Built-in functions that reach outside without an import."""
CLOCKS = {"now", "today", "utcnow"}
"""Methods by which a value of date or time would read the clock."""
FILES = [
    (path, allowed)
    for room, allowed in PURE.items()
    for path in ([room] if room.suffix else sorted(room.rglob("*.py")))
]


def imports(tree: ast.AST, module: str) -> set[str]:
    """Full names of what a module imports."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = module.split(".")[: -node.level] if node.level else []
            name = ".".join([*base, *([node.module] if node.module else [])])
            found |= {f"{name}.{alias.name}" for alias in node.names}
    return found


def outside(path: Path, allowed: set[str]) -> set[str]:
    """What reaches out of a pure room: imports that its row does not name, and built-in doors."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    root = HOST.parent if path.is_relative_to(HOST) else DEVICE.parent
    module = ".".join(path.relative_to(root).with_suffix("").parts)
    strays = {name for name in imports(tree, module) if not any(name == a or name.startswith(f"{a}.") for a in allowed)}
    calls = {node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)}
    asked = {n.func.attr for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Attribute)}
    return strays | (calls & DOORS) | (asked & CLOCKS)


@pytest.mark.parametrize(("path", "allowed"), FILES, ids=[f"{path.parent.name}/{path.name}" for path, _ in FILES])
def test_room_is_pure(path, allowed):
    assert outside(path, allowed) == set()


@pytest.mark.parametrize(
    "line",
    [
        *("import time", "from datetime import datetime", "from ..store import store", "from . import clock"),
        *("open('x')", "datetime.now()"),
    ],
)
def test_a_stray_is_found(tmp_path, monkeypatch, line):
    room = tmp_path / "lampwarden" / "rooms"
    room.mkdir(parents=True)
    (room / "stray.py").write_text(line)
    monkeypatch.setattr(f"{__name__}.HOST", tmp_path / "lampwarden")
    assert outside(room / "stray.py", LANGUAGE | {"lampwarden.domain"})
