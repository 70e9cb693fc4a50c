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
