import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampboard.rtu import sealed
from lampwarden.errors import BoardConfused, BoardRefused, BoardSilent, LinkError
from lampwarden.link.transport import ASK_S_MAX, BAUDS, REPLY_S, REST_S, WireTransport

from .conftest import ScriptedWire, frame

ANSWER = frame(0x04, 0x02, 0x00, 0x0A)


@pytest.mark.parametrize(
    ("ask", "question", "answer", "result"),
    [
        # The examples of "MODBUS application protocol" V1.1b3, sections 6.3, 6.4, 6.6, 6.12 (published), as RTU frames.
        ((3, 0x6B, 3), "03 00 6B 00 03", "03 06 02 2B 00 00 00 64", [0x022B, 0, 0x64]),
        ((4, 8, 1), "04 00 08 00 01", "04 02 00 0A", [0x0A]),
        ((6, 1, 1, [3]), "06 00 01 00 03", "06 00 01 00 03", []),
        ((16, 1, 1, [0x0A, 0x0102]), "10 00 01 00 02 04 00 0A 01 02", "10 00 01 00 02", []),
    ],
)
def test_published_frames(scripted, ask, question, answer, result):
    wire, transport = scripted(frame(*bytes.fromhex(answer)))
    assert transport.ask(*ask) == result
    assert wire.asked == [frame(*bytes.fromhex(question))]
    assert wire.rested_s == []


STALE = [
    pytest.param((4, 8, 1), frame(0x03, 0x02, 0x00, 0x0A), id="read with another function"),
    pytest.param((3, 8, 1), frame(0x04, 0x02, 0x00, 0x0A), id="stale reply of function 04 to a question with 03"),
    pytest.param((4, 8, 2), ANSWER, id="too few registers"),
    pytest.param((4, 8, 1), frame(0x04, 0x04, 0, 1, 0, 2), id="too many registers"),
    pytest.param((4, 8, 1), frame(0x10, 0, 0, 0, 11), id="stale reply to a write"),
    pytest.param((6, 1, 1, [3]), frame(0x06, 0, 1, 0, 4), id="another value was written"),
    pytest.param((6, 1, 1, [3]), frame(0x06, 0, 2, 0, 3), id="another register was written"),
    pytest.param((16, 1, 1, [1, 2]), frame(0x10, 0, 1, 0, 3), id="another count was written"),
    pytest.param((16, 1, 1, [1, 2]), frame(0x10, 0, 0, 0, 2), id="another address was written"),
    pytest.param((16, 1, 1, [1, 2]), frame(0x83, 2), id="refusal of another function"),
]


@pytest.mark.parametrize(("ask", "reply"), STALE)
def test_an_answer_to_another_question_is_not_taken(scripted, ask, reply):
    wire, transport = scripted(reply, ANSWER)
    wire.late = [ANSWER, b"\xff"]
    with pytest.raises(BoardConfused, match=f"function {ask[0]}, address {ask[1]}"):
        transport.ask(*ask)
    assert transport.ask(4, 8) == [10]
    assert wire.late == []  # the line was left alone until late answers had come and gone
    assert wire.rested_s == [REST_S] * 3


SILENCE = [
    pytest.param(b"", id="nothing"),
    pytest.param(ANSWER[:-1], id="cut short"),
    pytest.param(ANSWER[:-1] + bytes((ANSWER[-1] ^ 1,)), id="checksum wrong"),
    pytest.param(sealed(b"\x02" + ANSWER[1:-2]), id="another unit"),
    pytest.param(b"Traceback (most recent call last):\r\n", id="text"),
]


@pytest.mark.parametrize("reply", SILENCE)
def test_silence_and_noise_are_no_answer(scripted, reply):
    wire, transport = scripted(reply, ANSWER)
    with pytest.raises(BoardSilent, match=r"powered"):
        transport.ask(4, 8)
    assert len(wire.asked) == 1  # nothing is repeated
    assert transport.ask(4, 8) == [10]
    assert wire.rested_s == [REST_S]


def test_an_answer_in_pieces_is_put_together():
    class Pieces(ScriptedWire):
        def exchange(self, frame: bytes, timeout_s: float) -> bytes:
            return super().exchange(frame, timeout_s) if frame else self.late.pop(0)

    wire = Pieces(ANSWER[:3])
    wire.late = [ANSWER[3:5], ANSWER[5:]]
    assert WireTransport(wire).ask(4, 8) == [10]


def test_an_unplugged_port_is_silence_with_its_reason(scripted):
    _, transport = scripted(ConnectionError("unplugged"), ANSWER)
    with pytest.raises(BoardSilent, match=r"unplugged.*cable"):
        transport.ask(4, 8)
    assert transport.ask(4, 8) == [10]


@pytest.mark.parametrize("code", [1, 2, 3, 4])
def test_an_exception_is_a_refusal_and_the_line_stays_open(scripted, code):
    wire, transport = scripted(frame(0x86, code), ANSWER)
    with pytest.raises(BoardRefused, match=rf"write 1 to arm \(Modbus exception {code}\)") as caught:
        transport.ask(6, 14, values=[1])
    assert caught.value.code == code
    assert transport.ask(4, 8) == [10]
    assert wire.rested_s == []


REPLIES = st.one_of(
    st.binary(max_size=260),
    st.binary(max_size=250).map(lambda body: frame(*body)),
    st.tuples(st.integers(0, 255), st.binary(max_size=20)).map(lambda made: frame(made[0], *made[1])),
)


@given(reply=REPLIES)
def test_whatever_arrives_is_an_answer_or_a_link_error(reply):
    wire = ScriptedWire(reply)
    transport = WireTransport(wire)
    try:
        registers = transport.ask(4, 32, 2)
    except LinkError:
        return
    assert len(registers) == 2
    assert frame(4, 4, *(byte for word in registers for byte in divmod(word, 256))) in reply


def test_only_the_four_functions_are_asked(scripted):
    wire, transport = scripted()
    with pytest.raises(ValueError, match="function 5"):
        transport.ask(5, 0)
    assert wire.asked == []


def test_the_times_leave_room_in_a_control_period():
    slowest_answer_s = 0.5 + 0.02  # measured: a USB write may hang so long; then a pass of the board's loop
    assert slowest_answer_s < REPLY_S + REST_S
    assert ASK_S_MAX < 1.0
    bits_a_byte, live_block_bytes = 10, 8 + 129
    assert live_block_bytes * bits_a_byte / min(BAUDS) + 0.05 < REPLY_S
