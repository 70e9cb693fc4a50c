"""The one table both ends read: what each Modbus register of the board means.

Runs on CPython and MicroPython: no imports, tuples and integers only.

Two address spaces, as Modbus has them:
  "input"    read-only, function 04: what the board is and sees.
  "holding"  read with 03, written with 06 or 16: what the host demands.

Columns of a row: space, address, name, code, count, low, high, unit, meaning.
  code   struct letter of one element: H = 0..65535, h = -32768..32767, I = 0..4294967295.
         An I takes two registers, high word first; every register is big-endian.
  count  number of elements; more than 1 means one element per zone, bank or word.
  low, high  smallest and largest value that is legal. A write outside is refused with exception 03.
A name ends in its unit. A reading that the board does not have is NO_VALUE, never 0.
"""

MAP_VERSION = 1  # changes whenever a row changes its meaning
UNIT_ID = 1
ZONES_MAX = 8
BANKS_MAX = 8
NO_VALUE = -32768  # in an "h" register: the board has no such reading

# board_state
DARK = 0  # since boot, or disarmed: no demand is obeyed
READY = 1  # armed in this boot, limits set, no treatment lamp lit
LIT = 2  # at least one treatment lamp lit
TRIPPED = 3  # latched dark; see trip_cause
STATES = ("dark", "ready", "lit", "tripped")

# trip_cause
TRIP_NONE = 0
TRIP_STOP = 1
TRIP_AIR_OVER = 2
TRIP_BANK_OVER = 3
TRIP_AIR_RISE = 4
TRIP_BANK_RISE = 5
TRIP_AIR_SILENT = 6
TRIP_AIR_CRC = 7
TRIP_AIR_RANGE = 8
TRIP_AIR_FROZEN = 9
TRIP_BANK_RANGE = 10
TRIP_LIT_TOO_LONG = 11
TRIPS = (
    "none",
    "stop button pressed or lamp supply cut",
    "air over its limit",
    "bank over its limit",
    "air warming faster than plausible",
    "bank warming faster than plausible",
    "air sensor silent",
    "air sensor checksum wrong",
    "air sensor out of range",
    "air sensor frozen",
    "bank sensor open or shorted",
    "zone lit longer than the board allows",
)

# air_status, bank_status
SENSOR_OK = 0
SENSOR_SILENT = 1
SENSOR_CRC = 2
SENSOR_RANGE = 3
SENSOR_FROZEN = 4
SENSOR_ABSENT = 5  # no such channel on this board
SENSORS = ("ok", "silent", "checksum wrong", "out of range", "frozen", "absent")

# reset_cause
RESET_UNKNOWN = 0
RESET_POWER_ON = 1
RESET_WATCHDOG = 2
RESET_FIRMWARE_ERROR = 3
RESET_REQUESTED = 4
RESETS = ("unknown", "power on", "watchdog", "firmware error", "requested")

SERVICE_KEY = 0x5E7C  # written to service_key while dark: lamps off, back to the MicroPython prompt

# fmt: off
ROWS = (
    # --- what the board is: read once after each connect -------------------------------------------------------
    ("input", 0, "identity_echo", "H", 1, 0, 65535, "", "last heartbeat number received; tells a stale reply"),
    ("input", 1, "map_version", "H", 1, 1, 65535, "", "version of this table"),
    ("input", 2, "firmware_version", "H", 1, 0, 65535, "", "major x 100 + minor"),
    ("input", 3, "zone_count", "H", 1, 1, 8, "", "treatment zones on this board"),
    ("input", 4, "bank_count", "H", 1, 1, 8, "", "bank temperature sensors on this board"),
    ("input", 5, "unique_id", "H", 4, 0, 65535, "", "64 bit serial number of the microcontroller"),
    ("input", 9, "boot_count", "I", 1, 0, 4294967295, "", "boots since the firmware was installed"),
    ("input", 11, "reset_cause", "H", 1, 0, 4, "", (
        "why the board last started: 0 unknown, 1 power on, "
        "2 watchdog, 3 firmware error, 4 requested"
    )),
    ("input", 12, "air_ceiling_centi_c", "h", 1, -4000, 12500, "0.01 C", "no air limit may be set above this"),
    ("input", 13, "bank_ceiling_centi_c", "h", 1, -4000, 12500, "0.01 C", "no bank limit may be set above this"),
    ("input", 14, "lit_ceiling_s", "I", 1, 0, 4294967295, "s", "longest light per zone and arming"),
    ("input", 16, "has_inspection", "H", 1, 0, 1, "", "1: a white inspection bank is fitted"),
    # --- what the board sees: read every control period ----------------------------------------------------------
    ("input", 32, "live_echo", "H", 1, 0, 65535, "", "last heartbeat number received; tells a stale reply"),
    ("input", 33, "board_state", "H", 1, 0, 3, "", "0 dark, 1 ready, 2 lit, 3 tripped"),
    ("input", 34, "trip_cause", "H", 1, 0, 11, "", (
        "0 none, 1 stop button, 2 air over, 3 bank over, 4 air rise, "
        "5 bank rise, 6 air silent, 7 air checksum, 8 air range, 9 air frozen, 10 bank range, 11 lit too long"
    )),
    ("input", 35, "trip_channel", "H", 1, 0, 8, "", "bank or zone that tripped, counted from 1; 0: none in particular"),
    ("input", 36, "uptime_ms", "I", 1, 0, 4294967295, "ms", "time since boot; wraps after 49 days"),
    ("input", 38, "live_boot_count", "I", 1, 0, 4294967295, "", "same as boot_count: a change tells of a reboot"),
    ("input", 40, "door_open", "H", 1, 0, 1, "", "1: the door is open now"),
    ("input", 41, "door_openings", "H", 1, 0, 65535, "", "openings since boot; a change tells of one between reads"),
    ("input", 42, "stop_pressed", "H", 1, 0, 1, "", "1: the stop button is down now"),
    ("input", 43, "air_status", "H", 1, 0, 5, "", "0 ok, 1 silent, 2 checksum wrong, 3 range, 4 frozen, 5 absent"),
    ("input", 44, "air_temp_centi_c", "h", 1, -32768, 12500, "0.01 C", "chamber air near the sheet"),
    ("input", 45, "humidity_centi_pct", "h", 1, -32768, 10000, "0.01 %", "relative humidity"),
    ("input", 46, "air_age_ms", "H", 1, 0, 65535, "ms", "time since the last good air reading; stops at 65535"),
    ("input", 47, "heartbeat_left_ms", "H", 1, 0, 10000, "ms", "time left until the lamps go dark without a heartbeat"),
    ("input", 48, "fan_permille", "H", 1, 0, 1000, "permille", "fan drive now"),
    ("input", 49, "inspect_applied_permille", "H", 1, 0, 1000, "permille", "inspection bank now"),
    ("input", 50, "frames_ok", "H", 1, 0, 65535, "", "good frames for this unit since boot; wraps"),
    ("input", 51, "frames_bad", "H", 1, 0, 65535, "", "frames with a wrong checksum or length since boot; wraps"),
    ("input", 52, "exceptions", "H", 1, 0, 65535, "", "exception replies sent since boot; wraps"),
    ("input", 53, "loop_gap_ms_max", "H", 1, 0, 65535, "ms", "longest gap between two passes of the loop since boot"),
    ("input", 54, "zone_applied_permille", "H", 8, 0, 1000, "permille", "level of each zone now"),
    ("input", 62, "zone_lit_ms", "I", 8, 0, 4294967295, "ms", "level-weighted light of each zone since boot; wraps"),
    ("input", 78, "bank_status", "H", 8, 0, 5, "", "0 ok, 3 out of range (open or shorted), 5 absent"),
    ("input", 86, "bank_temp_centi_c", "h", 8, -32768, 15000, "0.01 C", "temperature of each bank plate"),
    # --- what the host demands -----------------------------------------------------------------------------------
    ("holding", 0, "heartbeat", "H", 1, 0, 65535, "", "any number that differs from the last one"),
    ("holding", 1, "fan_min_permille", "H", 1, 0, 1000, "permille", "least fan drive; the board may run it faster"),
    ("holding", 2, "inspect_level_permille", "H", 1, 0, 1000, "permille", "inspection bank; needs the door closed"),
    ("holding", 3, "zone_level_permille", "H", 8, 0, 1000, "permille", (
        "demanded level of each zone; zones the board "
        "does not have must be 0"
    )),
    ("holding", 11, "heartbeat_timeout_ms", "H", 1, 1000, 10000, "ms", "dark this long after the last new heartbeat"),
    ("holding", 12, "air_limit_centi_c", "h", 1, 0, 12500, "0.01 C", "trip above this; at most air_ceiling_centi_c"),
    ("holding", 13, "bank_limit_centi_c", "h", 1, 0, 12500, "0.01 C", "trip above this; at most bank_ceiling_centi_c"),
    ("holding", 14, "arm", "H", 1, 0, 1, "", "write 1 to arm (both limits must be written since boot), 0 to disarm"),
    ("holding", 15, "clear_trip", "H", 1, 0, 11, "", (
        "write the trip_cause that stands to clear it; refused while the "
        "cause lasts; reads 0"
    )),
    ("holding", 16, "service_key", "H", 1, 0, 65535, "", "write 24188 while dark to return to the prompt; reads 0"),
)
# fmt: on

IDENTITY = (0, 17)  # first address and number of input registers of the identity block
LIVE = (32, 62)  # the block read every control period
DEMAND = (0, 11)  # the holding registers written every control period: heartbeat, fan, inspection, levels
SETTINGS = (11, 4)  # timeout, limits, arm


def width(code):
    """Registers one element of this struct code takes: 2 for I, else 1."""
    return 2 if code == "I" else 1


def row(name):
    """The row of this name. Raises KeyError with the name if there is none."""
    for candidate in ROWS:
        if candidate[2] == name:
            return candidate
    raise KeyError(name)
