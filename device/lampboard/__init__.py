"""Firmware of the chamber board. Runs on MicroPython and, for tests and the simulated chamber, on CPython."""
