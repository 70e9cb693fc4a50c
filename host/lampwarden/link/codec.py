"""Registers to whole numbers and back, generated from the board's register table. Pure."""

import struct
from collections.abc import Sequence
from operator import itemgetter, le
from typing import Any

from lampboard.registers import ROWS

from ..errors import BoardRefused


class ValueIllegal(ValueError):
    """A value outside the range that the table gives it. The message names register, value and range."""


class Block:
    """An unbroken stretch of registers, decoded as a whole.

    Space is "input" or "holding". Raises ValueError if the table has a gap there or a row that sticks out.
    """

    def __init__(self, space: str, first: int, count: int) -> None:
        rows = [row for row in ROWS if row[0] == space and first <= row[1] < first + count]
        form, names, places, address = ">", [], [], first
        self._elements: list[tuple[str, int, int]] = []
        for _, at, name, code, elements, low, high, _, _ in rows:
            if at != address:
                raise ValueError(f"registers.py: the {space} registers have a gap at {address}")
            start = len(self._elements)
            names.append(name)
            places.append(slice(start, start + elements) if elements > 1 else start)
            form += f"{elements}{code}"
            self._elements += [(name, low, high)] * elements
            address += elements * (struct.calcsize(code) // 2)
        if address != first + count or not rows:
            raise ValueError(f"registers.py: the {space} registers {first}..{first + count - 1} are no whole rows")
        self.first, self.count, self.names = first, count, tuple(names)
        self._words = struct.Struct(f">{count}H")
        self._values = struct.Struct(form)
        self._pick = itemgetter(*places) if len(places) > 1 else lambda values: (values[places[0]],)
        self._lows = tuple(low for _, low, _ in self._elements)
        self._highs = tuple(high for _, _, high in self._elements)

    def decode(self, registers: Sequence[int]) -> dict[str, Any]:
        """Values by row name: an int, or a tuple of ints for rows of more than one element.

        NO_VALUE stays as it is. Raises ValueIllegal if a value is outside its range in the table.
        """
        values = self._values.unpack(self._words.pack(*registers))
        if not (all(map(le, self._lows, values)) and all(map(le, values, self._highs))):
            raise ValueIllegal(self._first_illegal(values))
        return dict(zip(self.names, self._pick(values), strict=True))

    def encode(self, values: Sequence[int]) -> list[int]:
        """Registers of these values, in the order of the table, one per element.

        Raises ValueIllegal if one is outside its range, ValueError if there are too few or too many.
        """
        if len(values) != len(self._elements):
            raise ValueError(f"{len(values)} values for {len(self._elements)} elements from {self.names[0]} on")
        if not (all(map(le, self._lows, values)) and all(map(le, values, self._highs))):
            raise ValueIllegal(self._first_illegal(values))
        return list(self._words.unpack(self._values.pack(*values)))

    def _first_illegal(self, values: Sequence[int]) -> str:
        for (name, low, high), value in zip(self._elements, values, strict=True):
            if not low <= value <= high:
                return f"{name} is {value}, not within {low}..{high}"
        raise ValueError("no value is illegal")


FUNCTION = 1
ADDRESS = 2
VALUE = 3
NOT_NOW = 4
"""Modbus exception codes, "MODBUS application protocol" V1.1b3 section 7; 4 is there "server device failure"."""

_REMEDY = {
    (FUNCTION, ""): "The board's firmware is not the one this program needs. Install the firmware that came with it.",
    (ADDRESS, ""): "The board's firmware has another register map. Install the firmware that came with this program.",
    (VALUE, "heartbeat"): "Zones and the inspection bank that the board does not have must be 0.",
    (VALUE, "heartbeat_timeout_ms"): "No limit may be above the ceiling in the board's own file. Lower the limits.",
    (NOT_NOW, "arm"): "Write both limits, clear the trip if one stands, and let all lamps be dark.",
    (VALUE, "clear_trip"): "Another cause stands by now. Read the board again.",
    (NOT_NOW, "clear_trip"): "The cause still lasts, or air or banks are not yet 3 °C under their limits. Mend, wait.",
    (VALUE, ""): "The board does not allow this value.",
    (NOT_NOW, ""): "The board cannot do this in its present state. Read its state and trip cause.",
}
"""What to do, by exception code and the first register of the refused order; "" for all others."""


def refusal(function: int, address: int, count: int, values: Sequence[int], code: int) -> BoardRefused:
    """The error for a Modbus exception: what was asked of which registers, the code, and what to do."""
    space = "input" if function == 4 else "holding"
    rows = [row for row in ROWS if row[0] == space and address <= row[1] < address + max(count, len(values))]
    names = ", ".join(row[2] for row in rows) or f"{space} register {address}"
    what = f"write {', '.join(map(str, values))} to" if values else "read"
    remedy = _REMEDY.get((code, rows[0][2] if rows else ""), _REMEDY.get((code, ""), "This code is not known here."))
    return BoardRefused(f"The board refused to {what} {names} (Modbus exception {code}). {remedy}", code)
