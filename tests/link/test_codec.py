import pytest

from lampboard import registers as reg
from lampwarden.link.codec import Block, ValueIllegal, refusal

IDS = [row[2] for row in reg.ROWS]


def words_of(code: str, value: int) -> list[int]:
    """Registers of one element, worked out by hand: high word first, two's complement."""
    return [value >> 16, value & 0xFFFF] if code == "I" else [value % 65536]


def edges(low: int, high: int) -> list[int]:
    near = {low, low + 1, -32767, -257, -256, -1, 0, 1, 255, 256, 32767, 65535, 65536, high // 2, high - 1, high}
    return sorted(value for value in near if low <= value <= high)


def block_of(row) -> Block:
    return Block(row[0], row[1], row[4] * reg.width(row[3]))


@pytest.mark.parametrize("row", reg.ROWS, ids=IDS)
def test_each_row_goes_to_registers_and_back(row):
    _, _, name, code, count, low, high, _, _ = row
    block, values = block_of(row), edges(low, high)
    for start in range(len(values)):
        elements = [values[(start + place) % len(values)] for place in range(count)]
        registers = block.encode(elements)
        assert registers == [word for value in elements for word in words_of(code, value)]
        assert block.decode(registers) == {name: tuple(elements) if count > 1 else elements[0]}


@pytest.mark.parametrize("row", reg.ROWS, ids=IDS)
def test_no_row_takes_a_value_outside_its_range(row):
    _, _, name, code, count, low, high, _, _ = row
    fits = {"H": (0, 65535), "h": (-32768, 32767), "I": (0, 2**32 - 1)}[code]
    block = block_of(row)
    for wrong in (low - 1, high + 1):
        elements = [low] * (count - 1) + [wrong]
        with pytest.raises(ValueIllegal, match=rf"^{name} is {wrong}, not within {low}\.\.{high}$"):
            block.encode(elements)
        if fits[0] <= wrong <= fits[1]:
            registers = [word for value in elements for word in words_of(code, value)]
            with pytest.raises(ValueIllegal, match=f"{name} is {wrong}"):
                block.decode(registers)


@pytest.mark.parametrize(
    ("space", "first", "count"), [("input", 0, 18), ("input", 0, 10), ("input", 1, 0), ("other", 0, 1)]
)
def test_a_block_is_whole_rows_without_gaps(space, first, count):
    with pytest.raises(ValueError, match=r"registers\.py"):
        Block(space, first, count)


def test_too_few_values_are_no_block():
    with pytest.raises(ValueError, match="2 values for 3 elements"):
        Block("holding", 11, 3).encode([3000, 4000])


@pytest.mark.parametrize("code", [1, 2, 3, 4, 6])
@pytest.mark.parametrize("row", [row for row in reg.ROWS if row[0] == "holding"], ids=lambda row: row[2])
def test_a_refusal_names_register_value_code_and_remedy(row, code):
    error = refusal(6, row[1], 1, [7], code)
    assert error.code == code
    message = str(error)
    assert message.startswith(f"The board refused to write 7 to {row[2]} (Modbus exception {code}). ")
    assert len(message.partition("). ")[2]) > 15


def test_a_refused_block_names_all_its_registers():
    error = refusal(16, 11, 1, [3000, 9000, 6000], 3)
    assert "3000, 9000, 6000 to heartbeat_timeout_ms, air_limit_centi_c, bank_limit_centi_c" in str(error)
    assert "ceiling" in str(error)
    assert "refused to read input register 900 " in str(refusal(4, 900, 4, [], 2))
