"""Modbus RTU server: bytes in, bytes out. No port, no clock, no pins.

The owner passes what arrived and the time in ms (a number that only grows), and sends what comes back. A frame ends
where its function says it ends, or, for a function we do not know, at a silence. Bytes that are no frame are skipped up
to the next byte that could be our unit id, so a good frame behind noise is still answered.

Only frames for our own unit are obeyed. Broadcasts (unit 0) are ignored on purpose: nobody gets an answer to one, and a
lamp must not be lit by an order whose fate nobody learns.

Format and limits: "MODBUS over serial line" V1.02 and "MODBUS application protocol" V1.1b3, restated from public texts.
"""

import struct

READ_HOLDING = 3
READ_INPUT = 4
WRITE_ONE = 6
WRITE_MANY = 16

OK = 0
ILLEGAL_FUNCTION = 1
ILLEGAL_ADDRESS = 2
ILLEGAL_VALUE = 3
NOT_NOW = 4  # Modbus calls it "server device failure": the order is well formed, but not possible in this state

FRAME_MAX = 256  # bytes, unit id and checksum included
READ_MAX = 125  # registers
WRITE_MAX = 123  # registers
# The standard's 1.75 ms between frames holds on a wire, not behind USB and a scheduler that hand bytes over in pieces.
SILENCE_MS = 50

NEED_MORE = 0


def _tables():
    """CRC of one byte, and of one byte followed by a zero byte: two bytes a step, polynomial 0x8005 reflected."""
    one = []
    for byte in range(256):
        for _ in range(8):
            byte = (byte >> 1) ^ 0xA001 if byte & 1 else byte >> 1
        one.append(byte)
    return tuple(one), tuple((crc >> 8) ^ one[crc & 0xFF] for crc in one)


_ONE, _TWO = _tables()


def crc16(data):
    """CRC-16/MODBUS of the bytes, 0..65535. Sent low byte first; 0 for a good frame with its checksum."""
    one = _ONE
    two = _TWO
    size = len(data)
    crc = 0xFFFF
    for word in struct.unpack_from("<%dH" % (size >> 1), data):
        crc ^= word
        crc = two[crc & 0xFF] ^ one[crc >> 8]
    if size & 1:
        crc = (crc >> 8) ^ one[(crc ^ data[size - 1]) & 0xFF]
    return crc


def sealed(body):
    """The body with its checksum."""
    return body + crc16(body).to_bytes(2, "little")


def request_size(data, at):
    """Bytes of the request at data[at]; NEED_MORE if too little arrived to tell; None if only silence can tell."""
    have = len(data) - at
    if have < 2:
        return NEED_MORE
    function = data[at + 1]
    if 1 <= function <= 6:
        return 8
    if function in (15, WRITE_MANY):
        return 9 + data[at + 6] if have > 6 else NEED_MORE
    return None


class Server:
    """Answers requests for one unit from `registers`, an object with

    read(function, address, count) -> 2 * count bytes, or an exception code
    write(address, values) -> OK or an exception code; on an exception nothing has changed
    """

    def __init__(self, unit, registers):
        self.unit = unit
        self.registers = registers
        self.pending = b""
        self.heard_ms = 0
        self.frames_ok = 0
        self.frames_bad = 0
        self.exceptions = 0

    def receive(self, data, now_ms):
        """Takes the bytes that arrived (b"" for none) and gives the bytes to send (b"" for none).

        Every frame in the data is obeyed, but only the last is answered: a master that sent a second one has given up
        on the first, and a late answer would be taken for the answer to its next question.
        """
        reply = b""
        if self.pending and now_ms - self.heard_ms >= SILENCE_MS:
            reply = self._take(self.pending, True)
        if data:
            self.heard_ms = now_ms
            reply = self._take(self.pending + data, False) or reply
        return reply

    def _take(self, data, silent):
        """Obeys the frames in the data and keeps what may yet become one; after a silence nothing may."""
        reply = b""
        at = 0
        noise = False
        while at < len(data):
            size = request_size(data, at)
            if size is None and silent and at == 0:
                size = len(data)
            if size is None or size == NEED_MORE or at + size > len(data):
                if not silent and len(data) - at <= FRAME_MAX:
                    break
            elif 4 <= size <= FRAME_MAX and crc16(data[at : at + size]) == 0:
                if data[at] == self.unit:
                    self.frames_ok += 1
                    reply = self.answer(data[at : at + size])
                at += size
                continue
            noise = True
            at = data.find(bytes((self.unit,)), at + 1)
            if at < 0:
                at = len(data)
        if noise:
            self.frames_bad += 1
        self.pending = data[at:]
        return reply

    def answer(self, frame):
        """The reply to a good request for this unit, checksum included."""
        function = frame[1]
        if function in (READ_INPUT, READ_HOLDING):
            address, count = struct.unpack_from(">HH", frame, 2)
            body = self.registers.read(function, address, count) if 1 <= count <= READ_MAX else ILLEGAL_VALUE
            if not isinstance(body, int):
                return sealed(bytes((self.unit, function, 2 * count)) + body)
            refusal = body
        elif function == WRITE_ONE:
            address, value = struct.unpack_from(">HH", frame, 2)
            refusal = self.registers.write(address, (value,))
            if refusal == OK:
                return frame
        elif function == WRITE_MANY:
            address, count = struct.unpack_from(">HH", frame, 2)
            refusal = ILLEGAL_VALUE
            if 1 <= count <= WRITE_MAX and frame[6] == 2 * count:
                refusal = self.registers.write(address, struct.unpack_from(f">{count}H", frame, 7))
                if refusal == OK:
                    return sealed(frame[:6])
        else:
            refusal = ILLEGAL_FUNCTION
        self.exceptions += 1
        return sealed(bytes((self.unit, function | 0x80, refusal)))
