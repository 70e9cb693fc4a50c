"""The link over real serial ports and sockets: the rig's served board, the firmware on MicroPython, and rude peers."""

import os
import select
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress

import pytest

from lampboard import registers as reg
from lampwarden.errors import BoardConfused, BoardSilent, WrongBoard
from lampwarden.link.board import Board, Demand
from lampwarden.link.ports import find_ports, probe
from lampwarden.link.transport import ASK_S_MAX, ModbusTransport, SerialPort, TcpPort, open_transport
from lampwarden.rig.design import RigDesign
from lampwarden.rig.served import serve_pty, serve_tcp
from lampwarden.rig.world import World

from .conftest import CHAMBER, FULL, frame

DARK = Demand((0.0,) * 6)
SLACK_S = 1.0  # a busy machine

needs_pty = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo terminals")


@pytest.fixture
def world() -> World:
    return World(RigDesign(), 1, CHAMBER)


@pytest.mark.parametrize("serve", [pytest.param(serve_pty, marks=needs_pty), serve_tcp])
def test_a_served_board(world, serve):
    with serve(world, speed=20.0) as served:
        assert probe(served.address).unique_id == world.board.unique_id.hex()
        board = Board(open_transport(served.address))
        deadline_s = time.monotonic() + 5
        while board.exchange(DARK).air_temp_c is None:
            assert time.monotonic() < deadline_s
        board.set_limits(40.0, 60.0, 10.0)
        board.arm()
        assert board.exchange(FULL).zone_applied == (1.0,) * 6
        board.demand(DARK)
        assert board.exchange(DARK).board_state == "ready"
    # The link still holds its end: a name let go could be another test's board by now.
    with pytest.raises(BoardSilent):
        board.exchange(DARK)
    board.close()


@needs_pty
def test_a_second_client_is_refused_the_port(world):
    with serve_pty(world) as served:
        first = Board(open_transport(served.address))
        first.identify()
        with pytest.raises(BoardSilent, match="Another program uses"):
            probe(served.address)
        first.exchange(DARK)
        first.close()
        probe(served.address)


@needs_pty
def test_a_port_that_vanishes_and_comes_back(world, tmp_path):
    name = tmp_path / "port"

    def plug(served) -> None:
        name.unlink(missing_ok=True)
        name.symlink_to(served.address.removeprefix("serial:"))

    board = Board(ModbusTransport(SerialPort(str(name), reply_s=0.2, rest_s=0.05)))
    with serve_pty(world) as served:
        plug(served)
        before = board.exchange(DARK)
    with pytest.raises(BoardSilent):
        board.exchange(DARK)
    name.unlink()
    with pytest.raises(BoardSilent, match="no serial port"):
        board.exchange(DARK)
    with serve_pty(world) as served:
        plug(served)
        assert board.exchange(DARK).boot_count == before.boot_count
    with serve_pty(World(RigDesign(), 2, CHAMBER)) as served:
        plug(served)
        with pytest.raises(BoardSilent):
            board.exchange(DARK)
        with pytest.raises(WrongBoard, match=world.board.unique_id.hex()):
            board.exchange(DARK)


BOARD_USB, CAMERA_USB = (0x2E8A, 5, None), (0x1234, 1, "7")


@pytest.fixture
def moved(world, tmp_path):
    """A board whose port has gone, and what the system shows of the ports that are there: name and USB device."""
    name, ports = tmp_path / "port", {}
    board = Board(ModbusTransport(SerialPort(str(name), reply_s=0.2, rest_s=0.05, usb_ports=lambda: ports)))
    with serve_pty(world) as served:
        device = served.address.removeprefix("serial:")
        name.symlink_to(device)
        ports[device] = BOARD_USB
        board.exchange(DARK)
    ports.clear()
    name.unlink()
    with pytest.raises(BoardSilent):
        board.exchange(DARK)
    with pytest.raises(BoardSilent, match="no serial port"):
        board.exchange(DARK)
    yield name, ports, board
    board.close()


@needs_pty
def test_a_board_that_comes_back_under_another_name(world, moved):
    name, ports, board = moved
    with serve_pty(world) as served:
        device = served.address.removeprefix("serial:")
        ports[device] = BOARD_USB
        board.exchange(DARK)
        board.close()
        name.symlink_to(device)  # its own name comes first again
        ports.clear()
        board.exchange(DARK)


@needs_pty
def test_another_board_of_the_same_make_is_passed_over(world, moved):
    _, ports, board = moved
    other = World(RigDesign(), 2, CHAMBER)
    with serve_pty(world) as served, serve_pty(other) as wrong:
        ports[served.address.removeprefix("serial:")] = BOARD_USB
        ports[wrong.address.removeprefix("serial:")] = BOARD_USB
        with pytest.raises(WrongBoard, match=other.board.unique_id.hex()):
            board.exchange(DARK)
        board.exchange(DARK)
    assert other.node.guard.heartbeat is None, "it was asked who it is, and told nothing"


@needs_pty
def test_a_device_of_another_make_is_left_alone(moved):
    _, ports, board = moved
    camera = World(RigDesign(), 3, CHAMBER)
    with serve_pty(camera) as served:
        ports[served.address.removeprefix("serial:")] = CAMERA_USB
        with pytest.raises(BoardSilent, match="no serial port"):
            board.exchange(DARK)
    assert (camera.node.server.frames_ok, camera.node.server.frames_bad) == (0, 0)


def test_a_served_board_that_goes_and_comes_back_over_tcp(world):
    with serve_tcp(world) as served:
        port = int(served.address.rpartition(":")[2])
        board = Board(ModbusTransport(TcpPort("127.0.0.1", port, rest_s=0.05)))
        board.exchange(DARK)
    with pytest.raises(BoardSilent):
        board.exchange(DARK)
    with pytest.raises(BoardSilent, match="Nobody answers"):
        board.exchange(DARK)
    with serve_tcp(world, port=port):
        board.exchange(DARK)


# --- the firmware on MicroPython -------------------------------------------------------------------------------------
def test_the_firmware_on_micropython(desk_board):
    board = Board(open_transport(f"serial:{desk_board.port}"))
    identity = board.identify()
    deadline_s = time.monotonic() + 5
    while (live := board.exchange(DARK)).air_temp_c is None:
        assert time.monotonic() < deadline_s
    assert len(live.zone_applied) == identity.zone_count
    board.set_limits(44.0, 60.0, 3.0)
    board.arm()
    assert board.exchange(FULL).board_state == "lit"
    time.sleep(0.2)
    assert board.exchange(FULL).zone_lit_ms[0] >= 200

    desk_board.restart()
    after = board.exchange(FULL)
    assert after.boot_count == live.boot_count + 1
    assert (after.board_state, after.zone_lit_ms[0]) == ("dark", 0)
    board.close()


def test_a_stopped_board_is_silent_and_its_late_answers_are_not_taken(desk_board):
    """SIGSTOP holds the board while questions pile up; on SIGCONT it answers the last of them, long after."""
    board = Board(ModbusTransport(SerialPort(desk_board.port, reply_s=0.1, rest_s=0.1)))
    board.exchange(DARK)
    desk_board.pause()
    for _ in range(3):
        began_s = time.monotonic()
        with pytest.raises(BoardSilent):
            board.exchange(DARK)
        assert time.monotonic() - began_s < 0.2 + SLACK_S
    desk_board.resume()
    deadline_s = time.monotonic() + 5
    while True:
        try:
            live = board.exchange(DARK)
            break
        except (BoardSilent, BoardConfused):
            assert time.monotonic() < deadline_s
    assert board.exchange(DARK).heartbeat == live.heartbeat + 1
    board.close()


# --- rude peers ------------------------------------------------------------------------------------------------------
Peer = Callable[[Callable[[socket.socket], None]], int]


@pytest.fixture
def peer() -> Iterator[Peer]:
    """Serves TCP connections with a function of one's own, each in turn; gives the port."""
    listener = socket.create_server(("127.0.0.1", 0))
    threads = []

    def serve(behave: Callable[[socket.socket], None]) -> int:
        def run() -> None:
            while True:
                try:
                    connection, _ = listener.accept()
                except OSError:
                    return
                with connection, suppress(OSError):  # the link hung up
                    behave(connection)

        threads.append(threading.Thread(target=run))
        threads[-1].start()
        return int(listener.getsockname()[1])

    yield serve
    listener.shutdown(socket.SHUT_RDWR)
    listener.close()
    for thread in threads:
        thread.join()


def dribble(connection: socket.socket) -> None:
    """One byte of a long answer every 10 ms."""
    for byte in frame(4, 124, *bytes(124)):
        connection.sendall(bytes((byte,)))
        time.sleep(0.01)


def flood(connection: socket.socket) -> None:
    """Without end, and in nothing like an answer."""
    while True:
        connection.sendall(bytes(4096))


def flood_with_beginnings(connection: socket.socket) -> None:
    while True:
        connection.sendall(b"\x01\x04\x7c" + bytes(range(200)))


def say_nothing(connection: socket.socket) -> None:
    while connection.recv(100):
        pass


@pytest.mark.parametrize("behave", [dribble, flood, flood_with_beginnings, say_nothing])
def test_no_peer_delays_an_ask_beyond_the_bound(peer, behave):
    reply_s, rest_s = 0.1, 0.1
    transport = ModbusTransport(TcpPort("127.0.0.1", peer(behave), reply_s, rest_s))
    for most_s in (reply_s, rest_s + reply_s):
        began_s = time.monotonic()
        with pytest.raises(BoardSilent):
            transport.ask(4, 32, 62)
        assert time.monotonic() - began_s < most_s + SLACK_S
    transport.close()


def test_a_connection_that_nobody_takes_up_is_given_up_in_time():
    """A full backlog leaves a connection hanging, as a machine that is switched off does."""
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen(0)
    waiting = []
    for _ in range(4):
        waiting.append(socket.socket())
        waiting[-1].setblocking(False)
        waiting[-1].connect_ex(listener.getsockname())
    transport = open_transport(f"tcp:127.0.0.1:{listener.getsockname()[1]}")
    began_s = time.monotonic()
    with pytest.raises(BoardSilent):
        transport.ask(4, 0)
    assert time.monotonic() - began_s < ASK_S_MAX + SLACK_S
    for connection in (*waiting, listener):
        connection.close()


@needs_pty
def test_a_late_answer_dies_while_the_port_rests():
    """The first answer comes 100 ms late; the second question gets its own."""
    near, far = os.openpty()
    transport = ModbusTransport(SerialPort(os.ttyname(far), reply_s=0.5, rest_s=0.5))

    def behave() -> None:
        os.read(near, 100)
        time.sleep(0.6)
        os.write(near, frame(4, 2, 0, 1))
        os.read(near, 100)
        os.write(near, frame(4, 2, 0, 2))

    peer = threading.Thread(target=behave)
    peer.start()
    with pytest.raises(BoardSilent):
        transport.ask(4, 0)
    assert transport.ask(4, 0) == [2]
    peer.join()
    transport.close()
    os.close(near)
    os.close(far)


@needs_pty
def test_bytes_that_came_unasked_are_thrown_away():
    near, far = os.openpty()
    transport = ModbusTransport(SerialPort(os.ttyname(far), reply_s=0.5))

    def answer(value: int) -> None:
        os.read(near, 100)
        os.write(near, frame(4, 2, 0, value))

    for value in (1, 2):
        peer = threading.Thread(target=answer, args=(value,))
        peer.start()
        assert transport.ask(4, 0) == [value]
        peer.join()
        os.write(near, frame(4, 2, 0, 99))  # one more answer, of the right shape
        assert select.select([far], [], [], 5)[0]
    transport.close()
    os.close(near)
    os.close(far)


def test_ports_are_listed_with_addresses_that_can_be_opened():
    for port in find_ports():
        assert port.address.startswith("serial:")
        assert port.what
        open_transport(port.address).close()
    usb = [port.usb for port in find_ports()]
    assert usb == sorted(usb, reverse=True)


def test_probing_something_else_says_so(peer):
    def banner(connection: socket.socket) -> None:
        while connection.recv(100):
            connection.sendall(b"raw REPL; CTRL-B to exit\r\n>OK")

    with pytest.raises(BoardSilent, match="No intact answer"):
        probe(f"tcp:127.0.0.1:{peer(banner)}")


def test_probing_a_board_with_another_map(peer):
    def other(connection: socket.socket) -> None:
        while connection.recv(100):
            connection.sendall(frame(4, 34, 0, 0, 0, reg.MAP_VERSION + 1, *bytes(30)))

    with pytest.raises(WrongBoard, match="register map"):
        probe(f"tcp:127.0.0.1:{peer(other)}")
