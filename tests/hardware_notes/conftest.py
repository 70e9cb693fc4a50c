"""The notes' scripts and this folder's helpers are no packages; they are found by their folders."""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2] / "hardware_notes"), str(Path(__file__).parent)]
