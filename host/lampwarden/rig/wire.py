"""The wire between host and simulated board, in virtual time, and what may go wrong on it.

A hook sees each piece of bytes and says what arrives instead, as (delay in ms, bytes) pairs: none is a loss, two are a
duplicate. `to_board` and `to_host` may be set at any time; the functions at the end make the usual faults.
"""

from collections.abc import Callable, Iterable
from functools import partial

from .world import World

Hook = Callable[[bytes], Iterable[tuple[int, bytes]]]

LATENCY_MS = 2  # invented: each way, about what a USB serial port takes
POLL_MS = 5  # between looks for a reply; the real firmware passes at least this often


def faithful(data: bytes) -> Iterable[tuple[int, bytes]]:
    return ((0, data),)


class Wire:
    """Holds the board's port; a transport asks over it."""

    def __init__(self, world: World) -> None:
        self.to_board: Hook = faithful
        self.to_host: Hook = faithful
        self.plugged = True
        """False: the port is gone, an exchange raises ConnectionError."""
        self._world = world
        self._coming: list[tuple[int, bytes]] = []
        world.listen(self._from_board)

    def exchange(self, frame: bytes, timeout_s: float) -> bytes:
        """Send a frame and wait, in virtual time, for the first bytes that come back; b"" after the timeout.

        Bytes that had arrived before are thrown away, as serial clients do; bytes still under way are not, so a late
        reply may come as the answer to a later question. Raises ConnectionError when unplugged.
        """
        world = self._world
        with world.lock:
            if not self.plugged:
                raise ConnectionError("The simulated board is unplugged.")
            now_ms = world.board.now_ms
            end_ms = now_ms + round(timeout_s * 1000)
            self._coming = [piece for piece in self._coming if piece[0] > now_ms]
            arriving = self.to_board(frame) if frame else ()  # an empty frame only listens
            world.advance_ms(now_ms + LATENCY_MS)
            for delay_ms, data in arriving:
                if delay_ms:
                    world.at(world.now_s + delay_ms / 1000, partial(world.deliver, data))
                else:
                    world.deliver(data)
            while self.plugged and world.board.now_ms < end_ms:
                due_ms = min((at_ms for at_ms, _ in self._coming), default=end_ms)
                if due_ms <= world.board.now_ms + POLL_MS:
                    world.advance_ms(min(due_ms, end_ms))
                    break
                world.advance_ms(world.board.now_ms + POLL_MS)
                world.firmware_pass()
            if not self.plugged:
                raise ConnectionError("The simulated board was unplugged.")
            now_ms = world.board.now_ms
            arrived = [piece for piece in self._coming if piece[0] <= now_ms]
            self._coming = [piece for piece in self._coming if piece[0] > now_ms]
            return b"".join(data for _, data in sorted(arrived, key=lambda piece: piece[0]))

    def _from_board(self, data: bytes) -> None:
        now_ms = self._world.board.now_ms
        if self.plugged:
            self._coming += [(now_ms + LATENCY_MS + delay_ms, piece) for delay_ms, piece in self.to_host(data)]


def drop(data: bytes) -> Iterable[tuple[int, bytes]]:
    return ()


def garble(data: bytes) -> Iterable[tuple[int, bytes]]:
    """One bit of the middle byte is wrong."""
    at = len(data) // 2
    return ((0, data[:at] + bytes((data[at] ^ 0x10,)) + data[at + 1 :]),)


def truncate(data: bytes) -> Iterable[tuple[int, bytes]]:
    """Only the first half arrives."""
    return ((0, data[: len(data) // 2]),)


def duplicate(data: bytes) -> Iterable[tuple[int, bytes]]:
    return ((0, data), (20, data))


def delay(by_ms: int) -> Hook:
    """A hook that delays everything by this many ms."""
    return lambda data: ((by_ms, data),)
