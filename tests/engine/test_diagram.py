"""The diagram that contributors read in DEVELOPERS.md is the one the code has."""

import re
from pathlib import Path

from lampwarden.engine import diagram

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"


def test_the_diagram_in_the_contributors_guide_is_the_table():
    blocks = re.findall(r"```mermaid\n(.*?)\n```", DEVELOPERS.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert diagram() in blocks, f"put this into a mermaid block of DEVELOPERS.md:\n{diagram()}"
