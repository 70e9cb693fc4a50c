"""The simulated board over a TCP socket and a pty, asked by a foreign, real Modbus client."""

import socket
import sys
import time

import pytest
from pymodbus import FramerType
from pymodbus.client import ModbusSerialClient, ModbusTcpClient

from lampboard import registers
from lampwarden.rig.served import serve_pty, serve_tcp


def by_tcp(address):
    host, port = address.removeprefix("tcp:").split(":")
    return ModbusTcpClient(host, port=int(port), framer=FramerType.RTU, timeout=2, retries=0)


def by_serial(address):
    return ModbusSerialClient(
        address.removeprefix("serial:"), framer=FramerType.RTU, baudrate=115200, timeout=2, retries=0
    )


PORTS = [
    pytest.param(serve_tcp, by_tcp, id="tcp"),
    pytest.param(
        serve_pty, by_serial, id="pty", marks=pytest.mark.skipif(sys.platform == "win32", reason="no ptys on Windows")
    ),
]


@pytest.mark.parametrize(("serve", "connect"), PORTS)
def test_a_whole_conversation(desk, serve, connect):
    world = desk().world
    world.advance(6.0)
    with serve(world) as served, connect(served.address) as client:
        assert client.connected
        first, count = registers.IDENTITY
        identity = client.read_input_registers(first, count=count, device_id=1).registers
        assert identity[3:5] == [6, 3]
        client.write_registers(registers.row("air_limit_centi_c")[1], [4000, 6300], device_id=1)
        assert not client.write_register(registers.row("arm")[1], 1, device_id=1).isError()
        assert not client.write_registers(0, [17, 0, 0, *[800] * 6, 0, 0], device_id=1).isError()
        assert world.truth.zone_permille == [800] * 6
        first, count = registers.LIVE
        live = client.read_input_registers(first, count=count, device_id=1).registers
        assert live[0] == 17
        assert registers.STATES[live[1]] == "lit"
        world.door(True)
        assert client.read_input_registers(40, count=1, device_id=1).registers == [1]
        assert world.truth.dark
        refused = client.read_input_registers(500, count=1, device_id=1)
        assert refused.isError()
        assert refused.exception_code == 2
    assert served.trouble is None


@pytest.mark.parametrize(("serve", "connect"), PORTS)
def test_a_second_master_comes_after_the_first(desk, serve, connect):
    with serve(desk().world) as served:
        for _ in range(20):
            with connect(served.address) as client:
                assert client.read_input_registers(3, count=2, device_id=1).registers == [6, 3]


def test_tcp_takes_one_master_at_a_time(desk):
    with serve_tcp(desk().world) as served, by_tcp(served.address) as first:
        assert first.read_input_registers(3, count=1, device_id=1).registers == [6]
        host, port = served.address.removeprefix("tcp:").split(":")
        with socket.create_connection((host, int(port)), timeout=2) as second:
            assert second.recv(1) == b""  # hung up on
        assert first.read_input_registers(3, count=1, device_id=1).registers == [6]


@pytest.mark.parametrize(("speed", "virtual_s"), [(200.0, 20.0), (1.0, 0.2)])
def test_serving_moves_virtual_time_at_its_speed_and_closing_stops_it(desk, speed, virtual_s):
    world = desk().world
    began_s = time.monotonic()
    with serve_tcp(world, speed=speed):
        while world.now_s < virtual_s and time.monotonic() - began_s < 10:
            time.sleep(0.005)
    took_s = time.monotonic() - began_s
    stopped_s = world.now_s
    assert virtual_s <= stopped_s <= speed * took_s + 0.001
    time.sleep(0.03)
    assert world.now_s == stopped_s


def test_silent_master_leaves_the_board_to_darken(desk):
    world = desk().world
    world.advance(6.0)
    with serve_tcp(world, speed=1.0) as served:
        with by_tcp(served.address) as client:
            client.write_registers(11, [1000, 4000, 6300, 1], device_id=1)
            client.write_registers(0, [1, 0, 0, *[1000] * 6, 0, 0], device_id=1)
            assert not world.truth.dark
        deadline_s = time.monotonic() + 5
        while not world.truth.dark and time.monotonic() < deadline_s:
            time.sleep(0.02)
    assert world.truth.dark
    assert all(1.0 <= world.truth.lit_s(zone) <= 1.3 for zone in range(6))


def test_free_port_is_given_back(desk):
    with serve_tcp(desk().world) as served:
        port = int(served.address.rsplit(":", 1)[1])
    with serve_tcp(desk().world, port=port) as again:
        assert again.address == served.address
