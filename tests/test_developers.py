"""DEVELOPERS.md draws the imports between rooms; they must be the real ones."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
HOST = ROOT / "host" / "lampwarden"


def drawn() -> set[tuple[str, str]]:
    block = re.search(r"```mermaid\nflowchart LR\n(.*?)```", (ROOT / "DEVELOPERS.md").read_text(), re.S)
    assert block
    return set(re.findall(r"(\w+) --> (\w+)", block[1]))


def imported() -> set[tuple[str, str]]:
    """Room to room, from every import statement."""
    found = set()
    for path in HOST.rglob("*.py"):
        parts = path.relative_to(HOST).with_suffix("").parts
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                base = ["lampwarden", *parts[: len(parts) - node.level]] if node.level else []
                name = ".".join([*base, *([node.module] if node.module else [])])
                names = [name, *(f"{name}.{alias.name}" for alias in node.names)]
            elif isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            else:
                continue
            for full in names:
                if full.startswith("lampboard"):
                    found.add((parts[0], "lampboard"))
                elif full.startswith("lampwarden.") and full.split(".")[1] != parts[0]:
                    found.add((parts[0], full.split(".")[1]))
    return found


def test_every_drawn_arrow_is_an_import() -> None:
    assert drawn() - imported() == set()


def test_no_import_between_rooms_points_where_the_picture_has_no_path() -> None:
    arrows = drawn()
    rooms = {room for arrow in arrows for room in arrow}
    reach = {room: {room} for room in rooms}
    for _ in rooms:
        for source, target in arrows:
            reach[source] |= reach[target]
    strays = {(a, b) for a, b in imported() if a in rooms and b in rooms and b not in reach[a]}
    assert strays == set()


def test_every_room_is_named_in_the_table() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text()
    rooms = [p.name for p in HOST.iterdir() if p.is_dir() and (p / "__init__.py").exists()]
    assert rooms
    assert [room for room in rooms if f"`host/lampwarden/{room}`" not in text and room != "light"] == []
