"""Writes wiring.svg, lamp.svg, inputs.svg, pins.md and registers.md beside this file, from the board's own files.

Run it after a change of boards/pico.py, main.py or registers.py:  python hardware_notes/draw.py
It needs Python alone. A test compares what it would write with what is committed.
"""

import runpy
from collections.abc import Mapping, Sequence
from pathlib import Path

from board_tables import Constant, constants, pins_of, pins_page, registers_page, signals
from canvas import Canvas

HERE = Path(__file__).parent
DEVICE = HERE.parent / "device"

WIDTH = 680  # a phone shows it at little more than half size; 16 units are then about 9 pixels
TRUNK_X = 92  # lamp supply
ZERO_X, GROUND_X = 32, 668  # 0 V of the supply and of the board, outside everything else
BOARD_LEFT, BOARD_RIGHT = 396, 524
DEVICE_LEFT, DEVICE_RIGHT = 560, 664
PIN_PITCH = 26


def gp(number: int) -> str:
    return f"GP{number}"


def span(pins: Sequence[int], else_words: str) -> str:
    """GP2-GP7; the words if there are gaps."""
    if list(pins) != list(range(pins[0], pins[0] + len(pins))):
        return else_words
    return gp(pins[0]) if len(pins) == 1 else f"{gp(pins[0])}-{gp(pins[-1])}"


def lamps(board: Mapping[str, Constant]) -> list[tuple[str, int]]:
    """Name and pin of each lamp switch."""
    zones = [(f"Zone {n}", pin) for n, pin in enumerate(pins_of(board["ZONE_PINS"].value), start=1)]
    return zones + [("White", pin) for pin in pins_of(board["INSPECTION_PIN"].value)]


def wiring(board: Mapping[str, Constant]) -> str:
    """The whole chamber on one page."""
    door, stop, enable, fan = (board[name].value for name in ("DOOR_PIN", "STOP_PIN", "ENABLE_PIN", "FAN_PIN"))
    banks = board["BANK_COUNT"].value
    c = Canvas(
        WIDTH,
        1240,
        "Wiring of the chamber",
        "The lamp supply runs through a main fuse, the emergency stop, the thermal cutouts, the door switch and "
        "relay K1 to the lamps; each lamp is switched on its low side. Board and fan are fed before the chain.",
    )
    c.text(20, 38, "Chamber wiring: supply, safety chain, board, lamps", "title")

    # Supplies. Board and fan branch off before the chain, so that they live on when it opens.
    c.wire("zero", (ZERO_X, 148), (ZERO_X, 1066), (GROUND_X, 1066))
    c.box(56, 168, 328, 540, style="zone")
    c.text(124, 190, "works without any program", "note")
    c.wire("always", (226, 92), (612, 92), (612, 250))
    c.fuse(262, 92, upright=False)
    c.text(262, 76, "F0", "name", "middle")
    c.text(296, 76, "always on: not cut by the chain")
    c.wire("always", (460, 92), (460, 118))
    c.wire("always", (460, 158), (460, 196))
    c.dot(460, 92)
    c.box(BOARD_LEFT, 118, 128, 40, ["5 V converter"])
    c.box(20, 60, 206, 88, ["24 V supply", "extra-low voltage,", "isolated from mains"])

    # The trunk.
    c.wire_with_gaps("lamp", TRUNK_X, 148, 890, (312, 402, 498, 656, 784))
    label_x = 124
    c.fuse(TRUNK_X, 226)
    c.text(label_x, 222, "Main fuse F1", "name")
    c.text(label_x, 242, "sized in parts.md")
    for y, symbol, name, *words in (
        (312, c.mushroom, "Emergency stop", "latching, opens by force"),
        (402, c.bimetal, f"Thermal cutouts, {banks} plates" if banks > 1 else "Thermal cutout, plate",
         "manual reset, one on each,", "all in series"),
        (498, c.bimetal, "Thermal cutout, air", "manual reset, near the sheet"),
    ):  # fmt: skip
        c.closed_contact(TRUNK_X, y)
        symbol(TRUNK_X, y)
        c.text(label_x, y - 4, name, "name")
        for line, word in enumerate(words):
            c.text(label_x, y + 16 + 20 * line, word)

    # What the board knows of the chain.
    c.wire("signal", (TRUNK_X, 572), (236, 572))
    c.wire("signal", (354, 572), (BOARD_LEFT, 572))
    c.dot(TRUNK_X, 572)
    c.text(label_x, 562, "Chain sense", "name")
    c.box(236, 552, 118, 40, ["optocoupler"])
    c.closed_contact(TRUNK_X, 656)
    c.wire("link", (TRUNK_X + 5, 656), (337, 656))
    c.text(label_x, 644, "Door switch", "name")
    c.text(label_x, 676, "two contacts,")
    c.text(label_x, 696, "opens by force")
    c.wire("signal", (332, 638), (332, 622), (BOARD_LEFT, 622))
    c.wire("thin", (332, 674), (332, 684))
    c.closed_contact(332, 656)
    c.ground(332, 684)

    # K1 drops out in every hold. It is a help, not a protection that counts.
    c.wire("thin", (TRUNK_X, 728), (290, 728), (290, 756))
    c.dot(TRUNK_X, 728)
    c.wire("link", (TRUNK_X - 7, 784), (236, 784))
    c.open_contact(TRUNK_X, 784)
    c.text(label_x, 764, "Relay K1", "name")
    c.text(label_x, 830, "closes only while the board")
    c.text(label_x, 850, "asks for light")
    c.box(236, 756, 108, 52, ["K1 coil", "+ transistor"])
    c.wire("signal", (344, 784), (BOARD_LEFT, 784))

    # The board: what comes from the chain on its left, all else on its right.
    right = 276
    sensors = [f"{banks} NTCs", "on the plates"] if banks > 1 else ["NTC", "on the plate"]
    if board["SELECT_PINS"].value:
        sensors.append("8 to 1 mux")
    devices = [
        (["Fan", "4 wires"], (fan,)),
        (["Air sensor", "SHT3x, 4x"], (board["SDA_PIN"].value, board["SCL_PIN"].value)),
        (sensors, (*pins_of(board["BANK_PINS"].value), *pins_of(board["SELECT_PINS"].value))),
        (["Jumper", "for service"], (board["ESCAPE_PIN"].value,)),
    ]
    link = (board["TX_PIN"].value, board["RX_PIN"].value) if board["LINK"].value == "uart" else None
    devices.append((["Isolator", "to computer"], link or ("USB",)))
    heights = [max(20 * len(words) + 14, PIN_PITCH * len(pins) + 6) for words, pins in devices]
    gap = min(40.0, (800 - right - sum(heights)) / (len(heights) - 1))
    c.box(BOARD_LEFT, 196, BOARD_RIGHT - BOARD_LEFT, 660, style="board")
    c.text(460, 222, "Board", "name", "middle")
    c.text(460, 242, "RP2040", "", "middle")
    top = right - heights[0] / 2
    for (words, pins), height in zip(devices, heights, strict=True):
        c.box(DEVICE_LEFT, top, DEVICE_RIGHT - DEVICE_LEFT, height, words)
        for place, pin in enumerate(pins):
            y = top + height / 2 + PIN_PITCH * (place - (len(pins) - 1) / 2)
            c.wire("signal", (BOARD_RIGHT, y), (DEVICE_LEFT, y))
            c.text(BOARD_RIGHT - 6, y + 6, pin if isinstance(pin, str) else gp(pin), "pin", "end")
        top += height + gap
    for y, pin in ((572, stop), (622, door), (784, enable)):
        c.text(BOARD_LEFT + 6, y + 6, gp(pin), "pin")
    c.wire("zero", (BOARD_RIGHT, 822), (GROUND_X, 822), (GROUND_X, 1066))
    c.text(BOARD_RIGHT - 6, 828, "0 V", "name", "end")

    # Lamps.
    row = lamps(board)
    last_x = 628
    c.text(460, 846, span([pin for _name, pin in row], "all lamps"), "pin", "middle")
    c.wire("signal", (460, 856), (460, 880))
    c.path("M454 870l6 10l6 -10", "wire signal")
    c.wire("lamp", (TRUNK_X, 890), (last_x if len(row) > 1 else TRUNK_X, 890))
    for n, (name, pin) in enumerate(row):
        x = TRUNK_X + (last_x - TRUNK_X) * n / max(1, len(row) - 1)
        c.wire("thin", (x, 890), (x, 1004))
        c.wire("thin", (x, 1040), (x, 1066))
        c.fuse(x, 926)
        c.led(x, 972)
        c.box(x - 29, 1004, 58, 36)
        c.text(x, 1028, gp(pin), "pin", "middle")
        c.dot(x, 1066)
        c.text(x, 1092, name, "name", "middle")
    c.text(20, 1124, "Each lamp: fuse, LED string with constant current, low-side switch (lamp.svg).")
    c.text(20, 1146, "0 V: one thick wire back to the supply. The board's ground joins it here, only here.")

    for n, (kind, words) in enumerate(
        (
            ("lamp", "lamp supply, cut by the chain"),
            ("always", "always on"),
            ("signal", "signal"),
            ("zero", "0 V"),
            ("link", "moves together"),
        )
    ):
        x, y = 20 + 300 * (n % 2), 1180 + 24 * (n // 2)
        x += 60 if n % 2 else 0
        c.wire(kind, (x, y - 5), (x + 40, y - 5))
        c.text(x + 52, y, words)
    return c.svg()


def lamp(board: Mapping[str, Constant]) -> str:
    """One lamp in full: why a reset board is dark."""
    c = Canvas(
        WIDTH,
        600,
        "One lamp",
        "From the lamp supply through a fuse, a constant-current part and the LEDs to a low-side transistor. "
        "Pull-downs of 10 kilohm at the driver's input, its enable input and the gate keep it dark without a program.",
    )
    c.text(20, 38, "One lamp: dark unless the board says otherwise", "title")
    x = 512
    c.wire("lamp", (360, 70), (WIDTH - 20, 70))
    c.text(350, 76, "lamp supply, after K1", "", "end")
    c.wire("thin", (x, 70), (x, 148))
    c.wire("thin", (x, 192), (x, 344))
    c.dot(x, 70)
    c.fuse(x, 108)
    c.text(x + 22, 114, "zone fuse")
    c.box(x - 74, 148, 148, 44, ["constant current"])
    c.led(x, 226)
    c.led(x, 274)
    c.text(x + 38, 250, "LED string")
    c.text(x + 38, 270, "on the plate")

    y = 370  # of the gate
    c.fet(x - 30, y)
    c.text(x + 16, y - 2, "transistor,")
    c.text(x + 16, y + 18, "logic level")
    c.wire("zero", (x, y + 26), (x, 500))
    c.ground(x, 500)
    c.wire("thin", (346, y), (x - 30, y))
    c.resistor(386, y, upright=False)
    c.text(386, y - 16, "47 Ω", "", "middle")
    c.wire("thin", (440, y), (440, 500))
    c.dot(440, y)
    c.resistor(440, 430)
    c.text(426, 436, "10 kΩ", "", "end")
    c.ground(440, 500)

    c.box(226, y - 40, 120, 80, ["gate driver", "with enable"])
    c.wire("always", (286, 266), (286, y - 40))
    c.text(286, 256, "12 V, always on", "", "middle")
    c.wire("signal", (112, y), (226, y))
    c.text(104, y + 6, "zone's GP", "pin", "end")
    c.wire("thin", (170, y), (170, 430))
    c.dot(170, y)
    c.resistor(170, 402)
    c.text(156, 408, "10 kΩ", "", "end")
    c.ground(170, 430)
    c.wire("signal", (112, 476), (286, 476), (286, y + 40))
    c.text(104, 482, gp(board["ENABLE_PIN"].value), "pin", "end")
    c.wire("thin", (200, 476), (200, 536))
    c.dot(200, 476)
    c.resistor(200, 508)
    c.text(216, 514, "10 kΩ")
    c.ground(200, 536)
    c.text(20, 580, "After a reset all pins are inputs. The three 10 kΩ resistors then hold the lamp dark.")
    return c.svg()


def inputs(board: Mapping[str, Constant]) -> str:
    """Six small circuits around the board."""
    name = {constant: value for constant, (value, _comment) in board.items()}
    c = Canvas(
        WIDTH,
        1010,
        "Circuits at the board's pins",
        "Door contact, chain sense, plate sensor, air sensor, fan and relay K1, each with its resistors.",
    )
    c.text(20, 38, "Circuits at the board's pins", "title")

    def panel(n: int, title: str) -> tuple[float, float]:
        x, y = 20 + 330 * (n % 2), 60 + 312 * (n // 2)
        c.put(f'<rect class="box" x="{x}" y="{y}" width="310" height="296" rx="8" fill="none"/>')
        c.text(x + 14, y + 26, title, "name")
        return x, y

    def pulled_up(x: float, y: float, ohm: str) -> None:
        """3.3 V at (x, y), a resistor below it; ends at (x, y + 76)."""
        c.text(x, y - 8, "3.3 V", "", "middle")
        c.wire("always", (x, y), (x, y + 20))
        c.wire("thin", (x, y + 20), (x, y + 76))
        c.resistor(x, y + 42)
        c.text(x + 16, y + 48, ohm)

    x, y = panel(0, "Door, second contact")
    pulled_up(x + 60, y + 66, "2.2 kΩ")
    c.wire("signal", (x + 60, y + 142), (x + 236, y + 142))
    c.dot(x + 60, y + 142)
    c.resistor(x + 130, y + 142, upright=False)
    c.text(x + 130, y + 168, "1 kΩ", "", "middle")
    c.text(x + 242, y + 148, gp(name["DOOR_PIN"]), "pin")
    c.wire_with_gaps("thin", x + 60, y + 142, y + 250, (y + 204,))
    c.closed_contact(x + 60, y + 204)
    c.text(x + 80, y + 210, "closed = shut")
    c.ground(x + 60, y + 250)
    c.wire("thin", (x + 208, y + 142), (x + 208, y + 172))
    c.dot(x + 208, y + 142)
    c.capacitor(x + 208, y + 176)
    c.text(x + 228, y + 182, "100 nF")
    c.wire("thin", (x + 208, y + 180), (x + 208, y + 206))
    c.ground(x + 208, y + 206)

    x, y = panel(1, "Chain sense")
    c.text(x + 60, y + 58, "chain", "", "middle")
    c.wire("lamp", (x + 60, y + 66), (x + 60, y + 80))
    c.wire("thin", (x + 60, y + 80), (x + 60, y + 250))
    c.resistor(x + 60, y + 112)
    c.text(x + 42, y + 118, "4.7k", "", "end")
    c.put(f'<rect class="box" x="{x + 28}" y="{y + 156}" width="140" height="64" rx="6"/>')
    c.led(x + 60, y + 188)
    c.phototransistor(x + 126, y + 188)
    c.text(x + 14, y + 282, "optocoupler lit = chain whole")
    c.ground(x + 60, y + 250)
    pulled_up(x + 126, y + 66, "2.2 kΩ")
    c.wire("thin", (x + 126, y + 142), (x + 126, y + 162))
    c.wire("signal", (x + 126, y + 142), (x + 236, y + 142))
    c.dot(x + 126, y + 142)
    c.text(x + 242, y + 148, gp(name["STOP_PIN"]), "pin")
    c.wire("thin", (x + 126, y + 214), (x + 126, y + 250))
    c.ground(x + 126, y + 250)

    x, y = panel(2, f"Plate sensor, one of {name['BANK_COUNT']}")
    pulled_up(x + 60, y + 66, "10 kΩ 1 %")
    c.wire("signal", (x + 60, y + 142), (x + 180, y + 142))
    c.dot(x + 60, y + 142)
    c.resistor(x + 104, y + 142, upright=False)
    c.text(x + 104, y + 166, "1 kΩ", "", "middle")
    c.wire("thin", (x + 60, y + 142), (x + 60, y + 250))
    c.ntc(x + 60, y + 204)
    c.text(x + 84, y + 218, "NTC 10k")
    c.ground(x + 60, y + 250)
    c.wire("thin", (x + 156, y + 142), (x + 156, y + 172))
    c.dot(x + 156, y + 142)
    c.capacitor(x + 156, y + 176)
    c.wire("thin", (x + 156, y + 180), (x + 156, y + 226))
    c.ground(x + 156, y + 226)
    c.text(x + 142, y + 192, "100 nF", "", "end")
    analog = span(pins_of(name["BANK_PINS"]), "ADC")
    if name["SELECT_PINS"]:
        c.box(x + 180, y + 114, 60, 106, ["8 to 1", "mux"])
        c.wire("signal", (x + 240, y + 142), (x + 256, y + 142))
        c.text(x + 260, y + 148, analog, "pin")
        c.wire("signal", (x + 210, y + 220), (x + 210, y + 252))
        c.text(x + 210, y + 272, span(name["SELECT_PINS"], "select"), "pin", "middle")
    else:
        c.text(x + 188, y + 148, analog, "pin")

    x, y = panel(3, "Air sensor, in moving air, shaded")
    for place, (pin, what) in enumerate(((name["SDA_PIN"], "data"), (name["SCL_PIN"], "clock"))):
        at, line = x + 152 + 84 * place, y + 142 + 44 * place
        pulled_up(at, y + 66, "4.7 kΩ")
        c.wire("thin", (at, y + 142), (at, line))
        c.dot(at, line)
        c.wire("signal", (x + 96, line), (x + 252, line))
        c.text(x + 258, line + 6, gp(pin), "pin")
        c.text(x + 101, line - 8, what)
    c.box(x + 14, y + 118, 82, 94, ["sensor", f"at 0x{name['AIR_ADDRESS']:02X}"])
    c.text(x + 14, y + 244, "cable at most 0.5 m, 100 kHz,")
    c.text(x + 14, y + 264, "100 nF at the sensor")

    x, y = panel(4, "Fan: runs full if the board is reset")
    pulled_up(x + 90, y + 66, "4.7 kΩ")
    c.text(x + 14, y + 148, gp(name["FAN_PIN"]), "pin")
    c.wire("signal", (x + 62, y + 142), (x + 132, y + 142))
    c.dot(x + 90, y + 142)
    c.path(f"M{x + 132} {y + 122}v40l36 -20z")
    c.wire("signal", (x + 168, y + 142), (x + 206, y + 142))
    c.box(x + 206, y + 114, 90, 56, ["fan's", "speed wire"])
    c.text(x + 14, y + 204, "Open-drain buffer that does not")
    c.text(x + 14, y + 224, "invert; the fan pulls its own wire")
    c.text(x + 14, y + 244, "up. Wire open = full speed.")

    x, y = panel(5, "Relay K1")
    c.text(x + 176, y + 58, "chain, after the door", "", "middle")
    c.wire("lamp", (x + 176, y + 66), (x + 176, y + 78))
    c.wire("thin", (x + 176, y + 78), (x + 176, y + 100))
    c.wire("thin", (x + 176, y + 138), (x + 176, y + 166))
    c.wire("thin", (x + 176, y + 84), (x + 236, y + 84), (x + 236, y + 154), (x + 176, y + 154))
    c.dot(x + 176, y + 84)
    c.dot(x + 176, y + 154)
    c.box(x + 144, y + 100, 64, 38, ["coil"])
    c.diode(x + 236, y + 119)
    c.fet(x + 146, y + 192)
    c.wire("zero", (x + 176, y + 218), (x + 176, y + 250))
    c.ground(x + 176, y + 250)
    c.text(x + 14, y + 198, gp(name["ENABLE_PIN"]), "pin")
    c.wire("signal", (x + 62, y + 192), (x + 146, y + 192))
    c.wire("thin", (x + 90, y + 192), (x + 90, y + 250))
    c.dot(x + 90, y + 192)
    c.resistor(x + 90, y + 222)
    c.text(x + 106, y + 228, "10 kΩ")
    c.ground(x + 90, y + 250)
    return c.svg()


def pages(pico: str, main: str, registers: Mapping[str, object]) -> dict[str, str]:
    """File name to content, from the text of boards/pico.py and of main.py, and the names of registers.py."""
    board = constants(pico) | constants(main)
    signals(board)  # refuses a table that uses a pin twice, before anything is drawn
    return {
        "wiring.svg": wiring(board),
        "lamp.svg": lamp(board),
        "inputs.svg": inputs(board),
        "pins.md": pins_page(board),
        "registers.md": registers_page(registers),
    }


def shipped() -> dict[str, str]:
    """The pages of the files in device/."""
    return pages(
        (DEVICE / "lampboard/boards/pico.py").read_text(encoding="utf-8"),
        (DEVICE / "root/main.py").read_text(encoding="utf-8"),
        runpy.run_path(str(DEVICE / "lampboard/registers.py")),
    )


if __name__ == "__main__":
    for name, content in shipped().items():
        (HERE / name).write_text(content, encoding="utf-8")
