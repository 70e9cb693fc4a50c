"""The host's end of the wire to the board: Modbus RTU over a serial port, TCP, or the simulated board's wire.

codec      registers to values and back, all from the board's own register table
transport  one Modbus transaction at a time; the seam
board      what the rest of the host says to a board, and what a board says of itself
ports      which serial ports are there, and is a board behind one
"""
