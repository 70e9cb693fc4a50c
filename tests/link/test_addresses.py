import errno

import pytest
import serial

from lampwarden.errors import BoardSilent, LinkError
from lampwarden.link.transport import open_transport, why_not_open


@pytest.mark.parametrize(
    ("address", "told"),
    [
        ("", "'' is no board address. Write 'serial:/dev/ttyACM0'"),
        ("/dev/ttyACM0", "Did you mean 'serial:/dev/ttyACM0'?"),
        ("COM3", "Did you mean 'serial:COM3'?"),
        ("com12@9600", "Did you mean 'serial:com12@9600'?"),
        ("lab:5020", "Did you mean 'tcp:lab:5020'?"),
        ("udp:lab:5020", "'lampwarden ports' lists"),
        ("Serial:COM3", "Write 'serial:/dev/ttyACM0'"),
        ("serial:", "names no port"),
        ("serial:COM3@", "Use one of 9600, 19200,"),
        ("serial:COM3@fast", "'fast' in 'serial:COM3@fast' is no usable baud rate"),
        ("serial:COM3@4800", "'4800' in"),
        ("tcp:", "lacks a host or a port"),
        ("tcp:lab", "lacks a host or a port"),
        ("tcp:5020", "lacks a host or a port"),
        ("tcp::5020", "lacks a host"),
        ("tcp:lab:", "'' in 'tcp:lab:' is no port number"),
        ("tcp:lab:0", "number from 1 to 65535"),
        ("tcp:lab:65536", "'65536' in"),
        ("tcp:lab:x", "'x' in"),
    ],
)
def test_an_address_that_is_none_is_told_what_to_write(address, told):
    with pytest.raises(LinkError) as caught:
        open_transport(address)
    assert told in str(caught.value)


@pytest.mark.parametrize(
    "address",
    [
        "serial:/dev/ttyACM0",
        "serial:/dev/serial/by-path/pci-0000:00:14.0-usb-0:2:1.0",
        "serial:COM3@115200",
        " tcp:lab.example:5020 ",
        "tcp:[::1]:5020",
    ],
)
def test_an_address_opens_nothing_until_something_is_asked(address):
    open_transport(address).close()


def test_a_port_that_is_not_there(tmp_path):
    with pytest.raises(BoardSilent, match=r"no serial port .*gone.*lampwarden ports"):
        open_transport(f"serial:{tmp_path}/gone").ask(4, 0)


def test_a_file_is_no_port(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(BoardSilent, match=r"file cannot be opened: .*Unplug"):
        open_transport(f"serial:{tmp_path}/file").ask(4, 0)


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (serial.SerialException(errno.EACCES, "could not open port: Permission denied"), "dialout"),
        (serial.SerialException(errno.EAGAIN, "Could not exclusively lock port"), "Another program uses"),
        (serial.SerialException(errno.EBUSY, "busy"), "Another program uses"),
        # As pyserial 3.5 words them on Windows (read in its source, not tried there).
        (serial.SerialException("could not open port 'COM3': FileNotFoundError(2, ...)"), "no serial port COM3"),
        (serial.SerialException("could not open port 'COM3': PermissionError(13, ...)"), "Another program uses COM3"),
        (ValueError("odd"), "odd"),
    ],
)
def test_why_a_port_does_not_open(error, told):
    assert told in why_not_open("COM3", error)


def test_nobody_at_a_tcp_address(free_port):
    with pytest.raises(BoardSilent, match=rf"Nobody answers at tcp:127\.0\.0\.1:{free_port} .*served there"):
        open_transport(f"tcp:127.0.0.1:{free_port}").ask(4, 0)


def test_a_name_that_nobody_knows():
    with pytest.raises(BoardSilent, match=r"No machine called 'no-such-host\.invalid'"):  # RFC 2606: never resolves
        open_transport("tcp:no-such-host.invalid:5020").ask(4, 0)
