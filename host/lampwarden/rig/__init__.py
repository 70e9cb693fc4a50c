"""The simulated chamber: the board's own firmware over an invented plant, in virtual time.

design       the invented numbers
plant        heat and moisture
sht3x        the air sensor, as its I2C registers
board_layer  pins, converters, ticks and watchdog, as the firmware sees them
truth        what the simulated lamps really did
world        all of it together, and the faults
wire, clock  joins a keeper to it in virtual time
served       offers it over TCP or a pty in real time
"""
