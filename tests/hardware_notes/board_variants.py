"""The shipped board file, and the same with other pins."""

import re
import runpy

import draw

PICO = (draw.DEVICE / "lampboard/boards/pico.py").read_text(encoding="utf-8")
MAIN = (draw.DEVICE / "root/main.py").read_text(encoding="utf-8")
REGISTERS = runpy.run_path(str(draw.DEVICE / "lampboard/registers.py"))


def with_pins(**changes: str) -> str:
    """The board's file with other values for some constants."""
    text = PICO
    for name, value in changes.items():
        text, found = re.subn(rf"^{name} = [^#\n]*", f"{name} = {value}  ", text, flags=re.M)
        assert found == 1, name
    return text
