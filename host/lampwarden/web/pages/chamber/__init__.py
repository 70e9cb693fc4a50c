"""The page Chamber: its zones and how their light is known, its air, its board.

page        put together of the parts below
zones       picture and table of the zones, leaks, hours of light
calibrate   what a person measured, or works out
heat        the heating curve
board       health, commissioning, every register
camera      the camera's command, tried
"""

from .page import ChamberPage

__all__ = ["ChamberPage"]
