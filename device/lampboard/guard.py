"""The board's last fence: which lamps may be lit. Pure: integers in, integers out, no pins, no clock.

Theory of operation. The node tells the guard what it sees (door, button, readings) and what the host writes, then asks
it once per pass to `judge`. Three tables hold every rule, and each rule is a small function that asks "is it safe?":

  TRIP_RULES  SAFE, or the channel that is not. The first that is not latches its cause: disarmed, dark until cleared.
  LIT_RULES   True while lamps may be lit. If one is not, every demanded level becomes 0, so that nothing relights by
              itself when the door closes or the host comes back: the host must demand again.
  WRITE_RULES OK, or the Modbus exception for a write that may not happen. All are asked before anything is changed.

A rule that fails to answer (None) is a rule that says no. A value never seen is None and is never safe.
Faults survived: host dead, stuck or absurd; door, button, sensor wires open or short; sensor silent, garbled or frozen;
a wrong limit written; the clock standing still for days. Not survived, and left to the thermal cutout and the door
contact in the lamp supply: a lamp switch that fails closed, a wrong ceiling in the board's file.

Times are ms since boot and never wrap (the node adds up tick differences). Temperatures are hundredths of a degree C,
levels are permille. Durations and temperatures below are this project's own choices unless a source is named.
"""

from lampboard.registers import (
    BANKS_MAX,
    DARK,
    LIT,
    NO_VALUE,
    READY,
    SENSOR_ABSENT,
    SENSOR_CRC,
    SENSOR_FROZEN,
    SENSOR_OK,
    SENSOR_RANGE,
    SENSOR_SILENT,
    SERVICE_KEY,
    TRIP_AIR_CRC,
    TRIP_AIR_FROZEN,
    TRIP_AIR_OVER,
    TRIP_AIR_RANGE,
    TRIP_AIR_RISE,
    TRIP_AIR_SILENT,
    TRIP_BANK_OVER,
    TRIP_BANK_RANGE,
    TRIP_BANK_RISE,
    TRIP_LIT_TOO_LONG,
    TRIP_NONE,
    TRIP_STOP,
    TRIPPED,
    ZONES_MAX,
)
from lampboard.rtu import ILLEGAL_VALUE, NOT_NOW, OK

SAFE = -1  # a trip rule's answer when all is well; else the bank or zone, counted from 1, or 0 for none in particular
NEVER_MS = -1000000  # longer ago at boot than any limit below

HEARTBEAT_TIMEOUT_MS = 3000  # until the host writes another: three missed writes at one a second
BOOT_GRACE_MS = 5000  # sensors may take this long after boot before their silence is a trip; lamps are dark meanwhile
AIR_LOST_MS = 3000  # six polls: rides over single lost readings, and air cannot heat far in it (see AIR_RISE)
AIR_FROZEN_MS = 120000  # a live humidity chip flickers in its last digits within seconds
BANK_LOST_MS = 1000  # two polls: rides over one spike on the analog line
COOL_MARGIN_CENTI_C = 300  # a trip is cleared only this far below the limits
# A warm-up that is quicker than lamps can make it is a fire, a stuck fan, or a sensor that fell off its plate.
RISE_STEP_MS = 10000  # the lowest reading of the present step and the three before it: looks back 30 to 40 s
RISE_STEPS = 4
AIR_RISE_CENTI_C = 500
BANK_RISE_CENTI_C = 2000  # a plate under lamps that just went on rises a few degrees in 30 s
FAN_FULL = 1000
FAN_WARM_CENTI_C = 3500  # fan full above this, lit or not
BOOK_MS = 200  # light is booked at least this often: the ceiling on it must act within 250 ms
HEAT_TRIPS = (TRIP_AIR_OVER, TRIP_BANK_OVER, TRIP_AIR_RISE, TRIP_BANK_RISE)


# --- trips: a reading never had is no trip by itself; LIT_RULES keep the board dark without it -----------------------
def stop_released(g, now):
    return 0 if g.stop_pressed else SAFE


def air_under_limit(g, now):
    return SAFE if g.air_temp_centi_c is None or g.air_temp_centi_c <= g.air_limit() else 0


def banks_under_limit(g, now):
    return SAFE if g.hottest_centi_c is None or g.hottest_centi_c <= g.bank_limit() else g.hottest_bank


def air_rise_plausible(g, now):
    return SAFE if g.air_rise.centi_c <= AIR_RISE_CENTI_C else 0


def banks_rise_plausible(g, now):
    return SAFE if g.steepest_centi_c <= BANK_RISE_CENTI_C else g.steepest_bank


def air_heard(g, now):
    if now - g.air_ok_ms <= AIR_LOST_MS or now <= BOOT_GRACE_MS or g.air_status in (SENSOR_CRC, SENSOR_RANGE):
        return SAFE
    return 0


def air_checksum_right(g, now):
    if g.air_status != SENSOR_CRC or now - g.air_ok_ms <= AIR_LOST_MS or now <= BOOT_GRACE_MS:
        return SAFE
    return 0


def air_in_range(g, now):
    if g.air_status != SENSOR_RANGE or now - g.air_ok_ms <= AIR_LOST_MS or now <= BOOT_GRACE_MS:
        return SAFE
    return 0


def air_alive(g, now):
    return SAFE if now - g.air_changed_ms <= AIR_FROZEN_MS else 0


def banks_in_range(g, now):
    if g.lost_bank == 0 or now - g.lost_ms <= BANK_LOST_MS or now <= BOOT_GRACE_MS:
        return SAFE
    return g.lost_bank


def lit_within_ceiling(g, now):
    return SAFE if g.longest_ms <= g.lit_ceiling_ms or not g.armed else g.longest_zone


TRIP_RULES = (  # in the order in which causes latch when two come in the same pass
    ("stop", TRIP_STOP, stop_released),
    ("air_over", TRIP_AIR_OVER, air_under_limit),
    ("bank_over", TRIP_BANK_OVER, banks_under_limit),
    ("air_rise", TRIP_AIR_RISE, air_rise_plausible),
    ("bank_rise", TRIP_BANK_RISE, banks_rise_plausible),
    ("air_silent", TRIP_AIR_SILENT, air_heard),
    ("air_crc", TRIP_AIR_CRC, air_checksum_right),
    ("air_range", TRIP_AIR_RANGE, air_in_range),
    ("air_frozen", TRIP_AIR_FROZEN, air_alive),
    ("bank_range", TRIP_BANK_RANGE, banks_in_range),
    ("lit_too_long", TRIP_LIT_TOO_LONG, lit_within_ceiling),
)


# --- may lamps be lit ------------------------------------------------------------------------------------------------
def is_armed(g, now):
    return g.armed  # which a trip ends


def door_is_closed(g, now):
    return not g.door_open


def host_is_alive(g, now):
    return g.heard_ms is not None and now - g.heard_ms <= g.heartbeat_timeout_ms


def air_is_known(g, now):
    return now - g.air_ok_ms <= AIR_LOST_MS


def banks_are_known(g, now):
    return g.lost_bank == 0 or now - g.lost_ms <= BANK_LOST_MS


LIT_RULES = (
    ("armed", is_armed),
    ("door", door_is_closed),
    ("heartbeat", host_is_alive),
    ("air_known", air_is_known),
    ("banks_known", banks_are_known),
)


# --- may this be written ---------------------------------------------------------------------------------------------
# `want` maps names of holding registers to their new values; what is not in it is not written.
def limits_only_tighten(g, now, want):
    air_fits = want.get("air_limit_centi_c", g.air_ceiling_centi_c) <= g.air_ceiling_centi_c
    bank_fits = want.get("bank_limit_centi_c", g.bank_ceiling_centi_c) <= g.bank_ceiling_centi_c
    return OK if air_fits and bank_fits else ILLEGAL_VALUE


def only_fitted_zones(g, now, want):
    levels = want.get("zone_level_permille")
    return OK if levels is None or not any(levels[g.zone_count :]) else ILLEGAL_VALUE


def only_fitted_inspection(g, now, want):
    return OK if g.has_inspection or want.get("inspect_level_permille", 0) == 0 else ILLEGAL_VALUE


def clears_what_stands(g, now, want):
    return OK if want.get("clear_trip", g.trip_cause) == g.trip_cause else ILLEGAL_VALUE


def right_service_key(g, now, want):
    return OK if want.get("service_key", SERVICE_KEY) == SERVICE_KEY else ILLEGAL_VALUE


def arm_knows_limits(g, now, want):
    if not want.get("arm"):
        return OK
    air = want.get("air_limit_centi_c", g.air_limit_centi_c)
    bank = want.get("bank_limit_centi_c", g.bank_limit_centi_c)
    return OK if air is not None and bank is not None else NOT_NOW


def arm_without_trip(g, now, want):
    return OK if not want.get("arm") or g.trip_cause == TRIP_NONE else NOT_NOW


def arm_while_dark(g, now, want):
    return OK if not want.get("arm") or not any(g.applied_permille) else NOT_NOW


def clear_when_gone(g, now, want):
    """Every rule must be content, not only the one that tripped, and both sensors well at this moment."""
    if want.get("clear_trip", TRIP_NONE) == TRIP_NONE:
        return OK
    if g.air_status != SENSOR_OK or not air_is_known(g, now) or g.lost_bank:
        return NOT_NOW
    for _name, _cause, rule in TRIP_RULES:
        if rule(g, now) != SAFE:
            return NOT_NOW
    return OK


def clear_when_cool(g, now, want):
    if want.get("clear_trip", TRIP_NONE) == TRIP_NONE:
        return OK
    air_cool = g.air_temp_centi_c is not None and g.air_temp_centi_c <= g.air_limit() - COOL_MARGIN_CENTI_C
    banks_cool = g.hottest_centi_c is not None and g.hottest_centi_c <= g.bank_limit() - COOL_MARGIN_CENTI_C
    return OK if air_cool and banks_cool else NOT_NOW


def service_while_dark(g, now, want):
    return OK if "service_key" not in want or not (g.armed or g.any_lit) else NOT_NOW


WRITE_RULES = (  # wrong values first, then what is not possible now
    ("limit_ceiling", limits_only_tighten),
    ("zone_fitted", only_fitted_zones),
    ("inspection_fitted", only_fitted_inspection),
    ("clear_number", clears_what_stands),
    ("service_key", right_service_key),
    ("arm_limits", arm_knows_limits),
    ("arm_trip", arm_without_trip),
    ("arm_dark", arm_while_dark),
    ("clear_gone", clear_when_gone),
    ("clear_cool", clear_when_cool),
    ("service_dark", service_while_dark),
)


class Rise:
    """How far a temperature stands above its lowest reading of the last 30 to 40 s."""

    def __init__(self):
        self.centi_c = 0
        self.step_ms = 0
        self.lows = []  # lowest reading of each step, the present one first

    def add(self, now, temp_centi_c):
        """Takes a reading; gives the rise. A gap in the readings ages the old ones as any other time does."""
        steps = (now - self.step_ms) // RISE_STEP_MS
        if steps or not self.lows:
            self.step_ms += steps * RISE_STEP_MS
            self.lows = ([temp_centi_c] * min(steps or 1, RISE_STEPS) + self.lows)[:RISE_STEPS]
        elif temp_centi_c < self.lows[0]:
            self.lows[0] = temp_centi_c
        self.centi_c = temp_centi_c - min(self.lows)
        return self.centi_c


class Guard:
    """The rules' memory of one boot. What it shows (state, levels, counters) is what the registers show."""

    def __init__(
        self, zone_count, bank_count, has_inspection, air_ceiling_centi_c, bank_ceiling_centi_c, lit_ceiling_s
    ):
        self.zone_count = zone_count
        self.bank_count = bank_count
        self.has_inspection = has_inspection
        self.air_ceiling_centi_c = air_ceiling_centi_c
        self.bank_ceiling_centi_c = bank_ceiling_centi_c
        self.lit_ceiling_ms = lit_ceiling_s * 1000

        # what the node sees; until it has looked: door open, button down
        self.door_open = True
        self.door_openings = 0
        self.stop_pressed = True
        self.air_status = SENSOR_SILENT
        self.air_temp_centi_c = None  # the last good reading, however old
        self.humidity_centi_pct = None
        self.air_ok_ms = NEVER_MS
        self.air_changed_ms = 0
        self.air_rise = Rise()
        self.bank_status = [SENSOR_RANGE if bank < bank_count else SENSOR_ABSENT for bank in range(BANKS_MAX)]
        self.bank_temp_centi_c = [NO_VALUE] * BANKS_MAX
        self.bank_rises = [Rise() for _ in range(bank_count)]
        self.bank_ok_ms = [NEVER_MS] * bank_count
        # ... and what the rules need of it, worked out once per reading
        self.hottest_bank = 0
        self.hottest_centi_c = None
        self.steepest_bank = 0
        self.steepest_centi_c = 0
        self.lost_bank = 1  # the bank that has given no good reading for longest; 0 if all did
        self.lost_ms = NEVER_MS
        self.is_cool = False

        # what the host demands
        self.heartbeat = None  # never heard in this boot: a first number counts as changed, a start from 0 would not
        self.heard_ms = None
        self.heartbeat_timeout_ms = HEARTBEAT_TIMEOUT_MS
        self.fan_min_permille = 0
        self.inspect_level_permille = 0
        self.level_permille = [0] * ZONES_MAX
        self.air_limit_centi_c = None
        self.bank_limit_centi_c = None
        self.service = False

        # what is done
        self.armed = False
        self.trip_cause = TRIP_NONE
        self.trip_channel = 0
        self.any_demand = False
        self.any_lit = False
        self.fan_permille = 0
        self.inspect_applied_permille = 0
        self.applied_permille = [0] * ZONES_MAX
        self.lit_ms = [0] * ZONES_MAX  # level-weighted, since boot, wraps at 32 bits
        self.lit_rest = [0] * ZONES_MAX  # permille x ms not yet a whole ms of full light
        self.burnt_ms = [0] * ZONES_MAX  # at any level, since arming
        self.longest_zone = 0
        self.longest_ms = 0
        self.booked_ms = 0

    # --- what the node sees ---
    def see(self, door_open, stop_pressed):
        if door_open != self.door_open:
            self.door_open = door_open
            if door_open:
                self.door_openings += 1
        self.stop_pressed = stop_pressed

    def see_air(self, now, status, temp_centi_c, humidity_centi_pct):
        """A reading of the air, or the reason why there is none; temperature and humidity count only if it is ok."""
        if status == SENSOR_OK:
            if (
                self.air_status != SENSOR_OK
                or temp_centi_c != self.air_temp_centi_c
                or humidity_centi_pct != self.humidity_centi_pct
            ):
                self.air_changed_ms = now
            self.air_temp_centi_c = temp_centi_c
            self.humidity_centi_pct = humidity_centi_pct
            self.air_ok_ms = now
            self.air_rise.add(now, temp_centi_c)
        self.air_status = status
        self._sum_up()

    def see_banks(self, now, readings):
        """One (status, temp_centi_c) for each bank of the board."""
        hottest_centi_c = None
        self.steepest_centi_c = 0
        self.lost_bank = 0
        for bank in range(self.bank_count):
            status, temp_centi_c = readings[bank]
            self.bank_status[bank] = status
            if status == SENSOR_OK:
                self.bank_temp_centi_c[bank] = temp_centi_c
                self.bank_ok_ms[bank] = now
                if hottest_centi_c is None or temp_centi_c > hottest_centi_c:
                    hottest_centi_c = temp_centi_c
                    self.hottest_bank = bank + 1
                rise = self.bank_rises[bank].add(now, temp_centi_c)
                if rise > self.steepest_centi_c:
                    self.steepest_centi_c = rise
                    self.steepest_bank = bank + 1
            else:
                self.bank_temp_centi_c[bank] = NO_VALUE
                if self.lost_bank == 0 or self.bank_ok_ms[bank] < self.lost_ms:
                    self.lost_bank = bank + 1
                    self.lost_ms = self.bank_ok_ms[bank]
        if hottest_centi_c is not None:
            self.hottest_centi_c = hottest_centi_c
        self._sum_up()

    def _sum_up(self):
        self.is_cool = (
            self.air_temp_centi_c is not None
            and self.air_temp_centi_c <= FAN_WARM_CENTI_C
            and self.hottest_centi_c is not None
            and self.hottest_centi_c <= FAN_WARM_CENTI_C
        )

    # --- what the host writes ---
    def write(self, now, want):
        """Carries out a write, or refuses it and changes nothing.

        want: names of holding registers and their values, each already within the table's low and high;
        zone_level_permille has ZONES_MAX of them. Returns OK or the Modbus exception.
        """
        for _name, rule in WRITE_RULES:
            refusal = rule(self, now, want)
            if refusal != OK:
                return refusal or NOT_NOW
        if "heartbeat" in want and want["heartbeat"] != self.heartbeat:
            self.heartbeat = want["heartbeat"]
            self.heard_ms = now
        self.fan_min_permille = want.get("fan_min_permille", self.fan_min_permille)
        self.heartbeat_timeout_ms = want.get("heartbeat_timeout_ms", self.heartbeat_timeout_ms)
        self.air_limit_centi_c = want.get("air_limit_centi_c", self.air_limit_centi_c)
        self.bank_limit_centi_c = want.get("bank_limit_centi_c", self.bank_limit_centi_c)
        if "inspect_level_permille" in want:
            self.inspect_level_permille = want["inspect_level_permille"]
        if "zone_level_permille" in want:
            self.level_permille = list(want["zone_level_permille"])
        if "clear_trip" in want:
            self.trip_cause = TRIP_NONE
            self.trip_channel = 0
        if "arm" in want:
            self.armed = want["arm"] == 1
            # Light always takes a demand of its own, written after arming.
            self._drop()
            self.burnt_ms = [0] * ZONES_MAX
            self.longest_ms = 0
        if "service_key" in want:
            self.service = True
        self.any_demand = any(self.level_permille) or self.inspect_level_permille > 0
        return OK

    # --- judgement ---
    def judge(self, now):
        """Asks every rule and settles what is done from now on. True if a lamp's level changed."""
        if now - self.booked_ms >= BOOK_MS:
            self.book(now)
        if self.trip_cause == TRIP_NONE:
            for _name, cause, rule in TRIP_RULES:
                channel = rule(self, now)
                if channel != SAFE:
                    self.trip_cause = cause
                    self.trip_channel = channel or 0
                    self.armed = False
                    self._drop()
                    break
        if self.any_demand:
            for _name, rule in LIT_RULES:
                if not rule(self, now):
                    self._drop()
                    break
        changed = (
            self.level_permille != self.applied_permille or self.inspect_level_permille != self.inspect_applied_permille
        )
        if changed:
            self.book(now)  # up to now the old levels held
            self.applied_permille = list(self.level_permille)
            self.inspect_applied_permille = self.inspect_level_permille
            self.any_lit = self.any_demand
        if self.any_lit or not self.is_cool or self.trip_cause in HEAT_TRIPS:
            self.fan_permille = FAN_FULL
        else:
            self.fan_permille = self.fan_min_permille
        return changed

    def _drop(self):
        """Forgets every demand for light."""
        self.level_permille = [0] * ZONES_MAX
        self.inspect_level_permille = 0
        self.any_demand = False

    def book(self, now):
        """Counts the light that fell since the last booking."""
        passed_ms = now - self.booked_ms
        self.booked_ms = now
        if not self.any_lit:
            return
        for zone in range(self.zone_count):
            level = self.applied_permille[zone]
            if level:
                rest = self.lit_rest[zone] + level * passed_ms
                self.lit_ms[zone] = (self.lit_ms[zone] + rest // 1000) & 0xFFFFFFFF
                self.lit_rest[zone] = rest % 1000
                self.burnt_ms[zone] += passed_ms
                if self.burnt_ms[zone] > self.longest_ms:
                    self.longest_ms = self.burnt_ms[zone]
                    self.longest_zone = zone + 1

    # --- what the registers show ---
    def state(self):
        if self.trip_cause != TRIP_NONE:
            return TRIPPED
        if not self.armed:
            return DARK
        return LIT if any(self.applied_permille) else READY

    def air_limit(self):
        """The air limit that holds: the host's, or the ceiling until it has written one."""
        return self.air_ceiling_centi_c if self.air_limit_centi_c is None else self.air_limit_centi_c

    def bank_limit(self):
        return self.bank_ceiling_centi_c if self.bank_limit_centi_c is None else self.bank_limit_centi_c

    def shown_air_status(self, now):
        """As read, save that a chip that answers well but never changes is frozen."""
        if self.air_status == SENSOR_OK and now - self.air_changed_ms > AIR_FROZEN_MS:
            return SENSOR_FROZEN
        return self.air_status

    def heartbeat_left_ms(self, now):
        if self.heard_ms is None:
            return 0
        return max(0, self.heartbeat_timeout_ms - (now - self.heard_ms))
