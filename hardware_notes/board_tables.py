"""Pin table, ceilings and register table as Markdown, read from the board's own files. Pure: text in, text out."""

import ast
import io
import tokenize
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

NOTE = (
    "<!-- Printed by draw.py from {source}. Do not edit: change the source and run `python hardware_notes/draw.py`. -->"
)

# Worst error of what the board believes, in K; the sums are in safety_chain.md.
BANK_ERROR_K = 4.0
AIR_ERROR_K = 2.5
CUTOUT_TOLERANCE_K = 5.0
CUTOUT_STEP_K = 5  # snap discs are sold in steps of 5 C (common practice)

# GPIO number to pin of the usual 40-pin RP2040 board (from memory; compare with the drawing of yours).
BOARD_PINS = {
    gpio: pin
    for pin, gpio in (
        *zip((1, 2, 4, 5, 6, 7, 9, 10, 11, 12, 14, 15, 16, 17, 19, 20), range(16), strict=True),
        *zip((21, 22, 24, 25, 26, 27, 29, 31, 32, 34), (16, 17, 18, 19, 20, 21, 22, 26, 27, 28), strict=True),
    )
}

PULL_DOWN = "10 kΩ to ground"
ROLES = {  # constant: (signal, direction, what is wired to it); {n} counts the pins of a tuple from 1
    "ZONE_PINS": ("lamp switch of zone {n}", "out, PWM", f"{PULL_DOWN} at the driver's input, 10 kΩ at the gate"),
    "INSPECTION_PIN": (
        "lamp switch of the white bank",
        "out, PWM",
        f"{PULL_DOWN} at the driver's input, 10 kΩ at the gate",
    ),
    "ENABLE_PIN": ("enable of all lamp drivers, relay K1", "out", PULL_DOWN),
    "FAN_PIN": ("fan speed", "out, PWM", "4.7 kΩ to 3.3 V, open-drain buffer: a reset board runs the fan full"),
    "DOOR_PIN": ("second contact of the door switch", "in, closed = shut", "2.2 kΩ to 3.3 V, 1 kΩ in series, 100 nF"),
    "STOP_PIN": ("sense of the safety chain", "in, low = whole", "2.2 kΩ to 3.3 V, optocoupler"),
    "BANK_PINS": ("plate sensors, analog {n}", "in, analog", "multiplexer's output, or one 10 kΩ divider each"),
    "SELECT_PINS": ("multiplexer address, bit {n}", "out", "-"),
    "SDA_PIN": ("air sensor, data", "in and out", "4.7 kΩ to 3.3 V"),
    "SCL_PIN": ("air sensor, clock", "out", "4.7 kΩ to 3.3 V"),
    "TX_PIN": ("serial line, send", "out", "isolator or RS-485 transceiver"),
    "RX_PIN": ("serial line, receive", "in", "isolator or RS-485 transceiver"),
    "DIRECTION_PIN": ("RS-485 direction", "out, high = send", PULL_DOWN),
    "ESCAPE_PIN": ("escape jumper to ground", "in, low = prompt", "none: the chip's own pull-up"),
}
UART_ONLY = ("TX_PIN", "RX_PIN", "DIRECTION_PIN")
SUBSCRIPT_FROM_ZERO = ("SELECT_PINS",)  # address bits are counted from 0, as everywhere


class Signal(NamedTuple):
    gpio: int
    constant: str
    """Name in the board's file."""
    signal: str
    direction: str
    parts: str
    """What is wired to the pin."""


class Constant(NamedTuple):
    value: Any
    comment: str
    """Comment at the end of the line, or empty."""


def constants(source: str) -> dict[str, Constant]:
    """The module's own UPPER_CASE literals, in order. Expressions of literals (30 * 3600) count; others do not."""
    comments = {
        token.start[0]: token.string.lstrip("# ")
        for token in tokenize.generate_tokens(io.StringIO(source).readline)
        if token.type == tokenize.COMMENT
    }
    found = {}
    for node in ast.parse(source).body:
        if not isinstance(node, ast.Assign):
            continue
        try:
            value = _literal(node.value)
        except ValueError:
            continue
        target = node.targets[0]
        names = target.elts if isinstance(target, ast.Tuple) else [target]
        values = value if isinstance(target, ast.Tuple) else [value]
        for name, item in zip(names, values, strict=True):
            if isinstance(name, ast.Name) and name.id.isupper():
                found[name.id] = Constant(item, comments.get(node.end_lineno or node.lineno, ""))
    return found


def _literal(node: ast.expr) -> Any:
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mult):
        return _literal(node.left) * _literal(node.right)
    return ast.literal_eval(node)


def pins_of(value: object) -> tuple[int, ...]:
    """The GPIO numbers of a pin constant: a number, a tuple of them, or None for none."""
    if value is None:
        return ()
    return tuple(value) if isinstance(value, tuple) else (value,)  # type: ignore[return-value]


def signals(board: Mapping[str, Constant]) -> list[Signal]:
    """One per pin in use, by GPIO number.

    Raises ValueError for a pin constant that ROLES does not know, and for a pin that is used twice.
    """
    found: list[Signal] = []
    for constant, (value, _comment) in board.items():
        if not constant.endswith(("_PIN", "_PINS")) or (constant in UART_ONLY and board["LINK"].value != "uart"):
            continue
        if constant not in ROLES:
            raise ValueError(f"{constant} is new in the board's file; say in board_tables.ROLES what is wired to it")
        signal, direction, parts = ROLES[constant]
        for n, gpio in enumerate(pins_of(value), start=0 if constant in SUBSCRIPT_FROM_ZERO else 1):
            found.append(Signal(gpio, constant, signal.format(n=n), direction, parts))
    found.sort()
    for one, other in pairwise(found):
        if one.gpio == other.gpio:
            raise ValueError(f"GP{one.gpio} is both {one.constant} and {other.constant}")
    return found


def cutout_c(ceiling_c: float, error_k: float) -> int:
    """Nominal set-point of the thermal cutout that belongs to a ceiling, C.

    The lowest step at which even the coldest-opening cutout stays above what the board may let pass:
    ceiling + error < set-point - tolerance. Example: 65 C and 4 K give 75 C.
    """
    least_c = ceiling_c + error_k + CUTOUT_TOLERANCE_K
    return int(least_c // CUTOUT_STEP_K + 1) * CUTOUT_STEP_K


def table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(str(cell) for cell in line) + " |" for line in lines)


def pins_page(board: Mapping[str, Constant]) -> str:
    rows = [
        (f"GP{s.gpio}", BOARD_PINS.get(s.gpio, "-"), s.signal, s.direction, s.parts, f"`{s.constant}`")
        for s in signals(board)
    ]
    ceilings = [
        (what, f"{c:g} °C", f"{error:g} K", f"±{CUTOUT_TOLERANCE_K:g} K", f"**{cutout_c(c, error)} °C**", f"`{name}`")
        for what, name, error in (
            ("hottest plate", "BANK_CEILING_CENTI_C", BANK_ERROR_K),
            ("air at the sheet", "AIR_CEILING_CENTI_C", AIR_ERROR_K),
        )
        for c in (board[name].value / 100,)
    ]
    return f"""{NOTE.format(source="device/lampboard/boards/pico.py and device/root/main.py")}
# Pins and ceilings of the shipped board file

Every GPIO of the chip is an input with a weak pull-down after a reset (from memory; measure it on your board). The
parts at the pin make that safe: lamps dark, fan at full.

{table(("GPIO", "pin of a 40-pin board", "signal", "direction", "parts at the pin", "name in the file"), rows)}

The column "pin of a 40-pin board" is from memory. Compare it with the drawing of your own board.
Inputs speak the safe way round: a broken wire reads as an open door or a broken chain.
The serial link is `{board["LINK"].value}`. The watchdog resets the board {board["WATCHDOG_MS"].value / 1000:g} s after
the last good pass. Lamps are switched at {board["LAMP_HZ"].value // 1000} kHz.

## Ceilings, and the thermal cutouts they call for

No host can set a limit above a ceiling. Each ceiling needs a cutout that opens above it, see
[safety_chain.md](safety_chain.md). Least set-point: ceiling + sensor error < set-point - tolerance.

{table(("what", "ceiling", "sensor error", "tolerance", "least set-point", "name in the file"), ceilings)}

A zone may be lit for {board["LIT_CEILING_S"].value / 3600:g} h per arming (`LIT_CEILING_S`).
"""


KINDS = {"H": "whole number", "h": "whole number with sign", "I": "32 bit, high word first"}
WIDTH = {"H": 1, "h": 1, "I": 2}


def registers_page(board: Mapping[str, Any]) -> str:
    """board: the names of registers.py."""

    def rows(space: str) -> list[tuple[object, ...]]:
        found = []
        for kind, address, name, code, count, low, high, unit, meaning in board["ROWS"]:
            if kind == space:
                last = address + count * WIDTH[code] - 1
                where = f"{address}" if last == address else f"{address}-{last}"
                many = f" × {count}" if count > 1 else ""
                found.append((where, f"`{name}`", KINDS[code] + many, f"{low} … {high}", unit, meaning))
        return found

    def numbers(words: Sequence[str]) -> str:
        return ", ".join(f"{number} {word}" for number, word in enumerate(words))

    head = ("address", "name", "kind", "range", "unit", "meaning")
    blocks = [
        (f"{what}", space, f"{first}", f"{count}")
        for what, space, (first, count) in (
            ("what the board is", "input", board["IDENTITY"]),
            ("what it sees", "input", board["LIVE"]),
            ("demand, written every second", "holding", board["DEMAND"]),
            ("settings", "holding", board["SETTINGS"]),
        )
    ]
    return f"""{NOTE.format(source="device/lampboard/registers.py")}
# Registers

Modbus RTU, unit {board["UNIT_ID"]}, table version {board["MAP_VERSION"]}. Addresses count from 0. Input registers are
read with function 04, holding registers read with 03 and written with 06 or 16. Any Modbus master can read them.
A reading that the board does not have is {board["NO_VALUE"]}, never 0. "× 8" means one for each zone or bank.
An illegal write is refused with an exception and changes nothing: 02 no such address, 03 value out of range, 04 not
now.

{table(("block, read or written at once", "space", "first", "registers"), blocks)}

## Input registers: what the board is and sees

{table(head, rows("input"))}

## Holding registers: what the host demands

{table(head, rows("holding"))}

## Numbers with a meaning

* `board_state`: {numbers(board["STATES"])}.
* `trip_cause`: {numbers(board["TRIPS"])}.
* `air_status`, `bank_status`: {numbers(board["SENSORS"])}.
* `reset_cause`: {numbers(board["RESETS"])}.
"""
