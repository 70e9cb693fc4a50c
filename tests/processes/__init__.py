"""The real daemon, the real firmware on MicroPython, real ports, disks and signals.

daemon   the daemon as a process, driven by its HTTP API alone
truth    what the lamps really did, from the board's own log, held against the journal
"""
