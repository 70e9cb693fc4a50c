"""Every sum printed in the notes is worked out again: `name = expression = result unit` in the text blocks."""

import ast
import math
import operator
import re
from collections.abc import Callable

import pytest
from board_tables import AIR_ERROR_K, BANK_ERROR_K
from draw import HERE as NOTES

from lampboard import guard
from lampboard.sensors import ntc
from lampwarden.domain.program import Limits

BLOCK = re.compile(r"^```text\n(.*?)^```$", re.M | re.S)
FUNCTIONS: dict[str, Callable[[float], float]] = {"sqrt": math.sqrt, "log": math.log, "erfc": math.erfc}
OPERATORS = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}


def value(expression: str, names: dict[str, float]) -> float:
    def walk(node: ast.expr) -> float:
        match node:
            case ast.Constant(value=float() | int() as number):
                return number
            case ast.Name(id=name):
                return names[name]
            case ast.BinOp(left=left, op=op, right=right):
                return OPERATORS[type(op)](walk(left), walk(right))
            case ast.Call(func=ast.Name(id=name), args=[argument]):
                return FUNCTIONS[name](walk(argument))
        raise ValueError(f"not understood: {ast.unparse(node)}")

    return walk(ast.parse(expression.replace("×", "*").replace("^", "**"), mode="eval").body)


def read(text: str) -> tuple[dict[str, float], list[str]]:
    """Values of all names, as printed, and the lines whose printed result is not what the expression gives."""
    names = {"pi": math.pi}
    wrong = []
    for line in "".join(BLOCK.findall(text)).splitlines():
        if not (bare := line.split("#")[0].strip()):
            continue
        name, *sides = bare.split(" = ")
        printed = re.match(r"-?\d+(\.\d+)?(e-?\d+)?", sides[-1])
        assert printed, line
        names[name] = float(printed[0])
        if len(sides) == 2:
            mantissa, _, exponent = printed[0].partition("e")
            half = 0.5 * 10 ** (int(exponent or 0) - len(mantissa.partition(".")[2]))
            if not abs(value(sides[0], names) - names[name]) <= half * 1.0001:
                wrong.append(f"{line}: is {value(sides[0], names):.6g}")
        else:
            assert len(sides) == 1, line
    return names, wrong


PAGES = sorted(path for path in NOTES.glob("*.md") if "```text" in path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_sums_are_right(path) -> None:
    names, wrong = read(path.read_text(encoding="utf-8"))
    assert len(names) > 5
    assert wrong == []


def test_a_wrong_sum_is_noticed() -> None:
    assert read("```text\na = 2 W\nb_w = a × 3 = 6.0 W  # so\n```\n")[1] == []
    assert read("```text\na = 2 W\nb_w = a × 3 = 6.1 W\n```\n")[1] == ["b_w = a × 3 = 6.1 W: is 6"]


def test_the_same_name_has_the_same_value_on_every_page() -> None:
    seen: dict[str, float] = {}
    for path in PAGES:
        for name, number in read(path.read_text(encoding="utf-8"))[0].items():
            assert seen.setdefault(name, number) == number, f"{name} in {path.name}"


def sums(page: str) -> dict[str, float]:
    return read((NOTES / page).read_text(encoding="utf-8"))[0]


def test_sensor_errors_cover_their_sums() -> None:
    safety = sums("safety_chain.md")
    assert safety["bank_error_k"] <= BANK_ERROR_K
    assert safety["air_error_k"] <= AIR_ERROR_K


def test_worked_cutouts_open_above_the_worst_the_board_lets_pass() -> None:
    safety = sums("safety_chain.md")
    assert safety["plate_ceiling_worst_c"] < safety["plate_cutout_lowest_c"]
    assert safety["air_ceiling_worst_c"] < safety["air_cutout_lowest_c"]


def test_ladder_of_temperatures_is_the_programs() -> None:
    text = (NOTES / "safety_chain.md").read_text(encoding="utf-8")
    limits = Limits()
    assert f"| program pauses to cool | {limits.bank_soft_c:g} °C | {limits.air_soft_c:g} °C |" in text
    assert f"| board trips, session ends | {limits.bank_hard_c:g} °C | {limits.air_hard_c:g} °C |" in text
    assert limits.bank_hard_c <= 65  # the ceilings of the worked pair leave the default limits their place
    assert limits.air_hard_c <= 45


def test_example_chamber_keeps_clear_of_the_boards_rules() -> None:
    thermal = sums("thermal.md")
    assert thermal["air_rise_k"] * 100 < guard.AIR_RISE_CENTI_C == 500  # the page says 5 K
    assert thermal["plate_rise_30s_k"] * 100 < guard.BANK_RISE_CENTI_C == 2000  # the page says 20 K
    limits = Limits()
    assert limits.bank_soft_c < thermal["still_plate_c"] < limits.bank_hard_c < thermal["hot_plate_c"]
    assert thermal["hot_plate_c"] < sums("safety_chain.md")["plate_cutout_lowest_c"]


def test_ntc_at_65_c_is_what_the_firmware_believes() -> None:
    status, centi_c = ntc.read(ntc.code(2590))
    assert status == 0
    assert abs(centi_c - 6500) < 50
