"""What draw.py prints is what is committed, and a wrong pin table is refused."""

import re

import draw
import pytest
from board_tables import AIR_ERROR_K, BANK_ERROR_K, CUTOUT_TOLERANCE_K, Constant, constants, cutout_c, signals
from board_variants import MAIN, PICO, REGISTERS, with_pins


@pytest.mark.parametrize("name", draw.shipped())
def test_committed_file_is_what_the_script_writes(name: str) -> None:
    committed = (draw.HERE / name).read_text(encoding="utf-8")
    assert committed == draw.shipped()[name], f"{name} is out of date: run `python hardware_notes/draw.py`"


def test_constants_are_literals_with_their_comments() -> None:
    source = "A_PIN = 3  # first\nB, C_PIN = 1, 2\nD = 2 * 30\nE = call()\nlower = 1\n"
    source += "F_PINS = (\n    4,\n    5,\n)  # many\n"
    assert constants(source) == {
        "A_PIN": Constant(3, "first"),
        "B": Constant(1, ""),
        "C_PIN": Constant(2, ""),
        "D": Constant(60, ""),
        "F_PINS": Constant((4, 5), "many"),
    }


def test_every_pin_of_the_board_file_is_in_the_table_once() -> None:
    names = plain_pins(PICO) | plain_pins(MAIN)
    page = draw.shipped()["pins.md"]
    rows = re.findall(r"^\| GP(\d+) \|.*\| `(\w+)` \|$", page, flags=re.M)
    assert {int(gpio) for gpio, _name in rows} == {gpio for gpios in names.values() for gpio in gpios}
    assert len(rows) == len({gpio for gpio, _name in rows})


def plain_pins(source: str) -> dict[str, list[int]]:
    """Pin constants found with plain text matching, on purpose not with the code under test."""
    found = {}
    for name, value in re.findall(r"^([A-Z_]*_PINS?) = ([^#\n]*)", source, flags=re.M):
        found[name] = [int(number) for number in re.findall(r"\d+", value)]
    for names, values in re.findall(r"^([A-Z0-9_]+(?:, [A-Z0-9_]+)+) = ([\d, ]+)$", source, flags=re.M):
        for name, value in zip(names.split(", "), values.split(", "), strict=True):
            if name.endswith("_PIN") and name not in ("TX_PIN", "RX_PIN"):
                found[name] = [int(value)]
    return found


def test_a_pin_used_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="GP14 is both"):
        draw.pages(with_pins(FAN_PIN="14"), MAIN, REGISTERS)


def test_an_unknown_pin_is_refused() -> None:
    with pytest.raises(ValueError, match="BELL_PIN is new"):
        draw.pages(PICO + "\nBELL_PIN = 9\n", MAIN, REGISTERS)


def test_uart_pins_appear_only_with_the_uart() -> None:
    gpios = {s.gpio for s in signals(constants(with_pins(LINK='"uart"', DIRECTION_PIN="9")))}
    assert {0, 1, 9} <= gpios
    assert not {0, 1, 9} & {s.gpio for s in signals(constants(PICO))}


@pytest.mark.parametrize(
    ("ceiling_c", "error_k", "nominal_c"),
    [
        (65, 4, 75),  # the worked pair of safety_chain.md: 65 + 4 < 75 - 5
        (45, 2.5, 55),
        (66, 4, 80),  # 66 + 4 = 75 - 5 is not below
        (70, 4, 80),
    ],
)
def test_cutout_opens_above_what_the_board_may_let_pass(ceiling_c: float, error_k: float, nominal_c: int) -> None:
    assert cutout_c(ceiling_c, error_k) == nominal_c
    assert ceiling_c + error_k < nominal_c - CUTOUT_TOLERANCE_K
    assert not ceiling_c + error_k < nominal_c - 5 - CUTOUT_TOLERANCE_K


def test_pins_page_names_a_cutout_that_fits_the_shipped_ceilings() -> None:
    page = draw.shipped()["pins.md"]
    for name, error_k in (("BANK_CEILING_CENTI_C", BANK_ERROR_K), ("AIR_CEILING_CENTI_C", AIR_ERROR_K)):
        ceiling_c = constants(PICO)[name].value / 100
        row = next(line for line in page.splitlines() if name in line)
        nominal_c = int(re.search(r"\*\*(\d+) °C\*\*", row)[1])
        assert f"{ceiling_c:g} °C" in row
        assert ceiling_c + error_k < nominal_c - CUTOUT_TOLERANCE_K


def test_every_register_is_printed() -> None:
    page = draw.shipped()["registers.md"]
    for _space, address, name, *_rest in REGISTERS["ROWS"]:
        assert re.search(rf"^\| {address}(-\d+)? \| `{name}` \|", page, flags=re.M), name
    for words in ("STATES", "TRIPS", "SENSORS", "RESETS"):
        for number, word in enumerate(REGISTERS[words]):
            assert f"{number} {word}" in page
