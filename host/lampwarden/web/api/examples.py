"""Examples for the API's description, from the invented scenario."""

PROGRAM_TOML = """\
title = "Ferry timetable, short trial"

[[zones]]
zone = "A1"
exposures = [{ start = "0 h", end = "2 h" }]

[[zones]]
zone = "A2"
exposures = [{ start = "0 h", dose_j_cm2 = 126.7 }]

[[checkpoints]]
name = "baseline"
at = "0 h"

[[checkpoints]]
name = "2 h"
at = "2 h"
"""

PROGRAM = {
    "title": "Ferry timetable, short trial",
    "zones": [
        {"zone": "A1", "exposures": [{"start": "0 h", "end": "2 h"}]},
        {"zone": "A2", "exposures": [{"start": "0 h", "dose_j_cm2": 126.7}]},
    ],
    "checkpoints": [{"name": "baseline", "at": "0 h"}, {"name": "2 h", "at": "2 h"}],
}

SHEET_TOML = """\
id = "ferry-timetable"
title = "Harbour Line Ferries, summer timetable"
paper = "groundwood"
original = false
consent = true
inks = [{ name = "black", kind = "carbon black" }]

[[cells]]
name = "A1"
zone = "A1"
x_mm = 42
y_mm = 36
width_mm = 36
height_mm = 36
treatment = { light = true }
"""

SHEET = {
    "id": "ferry-timetable",
    "title": "Harbour Line Ferries, summer timetable",
    "paper": "groundwood",
    "original": False,
    "consent": True,
    "inks": [{"name": "black", "kind": "carbon black"}],
    "cells": [
        {
            "name": "A1",
            "zone": "A1",
            "x_mm": 42,
            "y_mm": 36,
            "width_mm": 36,
            "height_mm": 36,
            "treatment": {"light": True},
        }
    ],
}

PLAN = {
    "id": "ferry-trial",
    "title": "Ferry timetable, short trial",
    "chamber": "demo",
    "sheet": "ferry-timetable",
    "program": PROGRAM,
    "sleep_from": "22:30",
    "sleep_to": "07:00",
}

CHAMBER = {"id": "demo", "title": "Demo chamber", "zones": [{"name": "A1", "irradiance_w_m2": 84.0}]}
