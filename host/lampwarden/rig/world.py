"""The simulated world: firmware, board layer and plant on one virtual clock, and the faults that befall them.

Time is whole milliseconds and moves only when somebody calls `advance` (or exchanges over the wire). Between two calls
nothing happens, so a run depends on seed and calls alone. The firmware makes a pass every 100 ms, and at once when
bytes arrive; the plant takes exact steps of one second.
"""

import heapq
import itertools
import threading
from collections.abc import Callable

from lampboard import registers
from lampboard.node import Node, dark

from ..domain.chamber import Chamber
from .board_layer import BankFault, SimBoard
from .design import RigDesign
from .plant import Plant
from .sht3x import AirFault

PASS_MS = 100  # between passes of the firmware when nothing arrives; the slowest that design.md allows
PLANT_MS = 1000  # temperatures move slowly against this (fastest time constant: minutes)


def _whole_ms(t_s: float) -> int:
    """The first whole millisecond that is not before this time, so that who waits for t_s finds it reached."""
    ms = round(t_s * 1000)
    return ms if ms / 1000 >= t_s else ms + 1


class World:
    """One simulated chamber. Safe to call from several threads; each call is whole.

    Faults are set at the present moment, or at a later one with `at`.
    """

    def __init__(self, design: RigDesign, seed: int, chamber: Chamber, ticks_start_ms: int = 0) -> None:
        self.lock = threading.RLock()
        """Held during each call; take it to make several calls one."""
        self.design, self.seed, self.chamber = design, seed, chamber
        self.plant = Plant(design, chamber)
        zone_count = len(chamber.zones)
        self.board = SimBoard(design, self.plant, zone_count, chamber.bank_count, chamber.inspection, seed)
        self.board.ticks_start_ms = ticks_start_ms
        self.truth = self.board.truth
        """What the lamps really did. For checkers only."""
        self.firmware_errors: list[Exception] = []
        """Exceptions that escaped from the firmware and reset the board. Empty unless a fault was asked for."""
        self.node: Node | None = None
        """The running firmware; None from a reset until it has booted."""
        self._next_pass_ms, self._next_plant_ms = 0, PLANT_MS
        self._plant_lit = [0] * zone_count
        self._booted_ms = 0
        self._hung = False
        self._todo: list[tuple[int, int, Callable[[], object]]] = []
        self._order = itertools.count()
        self._cause = registers.RESET_POWER_ON
        self._boot()

    # --- time -----------------------------------------------------------------------------------------------------
    @property
    def now_s(self) -> float:
        """Virtual time since the world began, s."""
        return self.board.now_ms / 1000

    def advance(self, to_s: float) -> None:
        """Let everything happen up to this virtual time, s; ends at it or up to 1 ms later. The past is no error."""
        self.advance_ms(_whole_ms(to_s))

    def advance_ms(self, to_ms: int) -> None:
        """The same in whole milliseconds."""
        with self.lock:
            while self._todo and self._todo[0][0] <= to_ms:
                at_ms, _, action = heapq.heappop(self._todo)
                self._run_to(at_ms)
                action()
            self._run_to(to_ms)

    def at(self, t_s: float, action: Callable[[], object]) -> None:
        """Call `action` at this virtual time (at once when time moves on, if it is past); same times in order given."""
        with self.lock:
            heapq.heappush(self._todo, (_whole_ms(t_s), next(self._order), action))

    def _run_to(self, to_ms: int) -> None:
        board, watchdog_ms = self.board, self.design.watchdog_ms
        while (due_ms := self._next_pass_ms) <= to_ms:
            board.now_ms = due_ms
            self._next_pass_ms = due_ms + PASS_MS
            if due_ms >= self._next_plant_ms:
                self._step_plant()
            self.firmware_pass()
            if due_ms - board.fed_ms > watchdog_ms and self.node is not None:
                self._reset(registers.RESET_WATCHDOG)
        if to_ms > board.now_ms:
            board.now_ms = to_ms

    def _step_plant(self) -> None:
        truth = self.truth
        self._next_plant_ms += PLANT_MS
        lit = [truth.lit_permille_ms(zone) for zone in range(len(self._plant_lit))]
        share = [(now - before) / (1000 * PLANT_MS) for now, before in zip(lit, self._plant_lit, strict=True)]
        self._plant_lit = lit
        self.plant.step(PLANT_MS / 1000, share, truth.inspection_permille / 1000, truth.fan_permille / 1000)
        self.board.settle_dividers()

    # --- firmware -------------------------------------------------------------------------------------------------
    def firmware_pass(self) -> None:
        """One pass of the firmware's loop now, if it runs."""
        node = self.node
        if node is None:
            if self.board.now_ms >= self._booted_ms and not self.board.left:
                self._boot()
            return
        if self._hung:
            return
        try:
            node.step()
            if node.guard.service:  # here node.run ends
                dark(self.board)
                self.board.leave()
                self.node = None
        except Exception as error:
            # As on the board: lamps off, remember why, start again.
            self.firmware_errors.append(error)
            self.board.record_error(registers.RESET_FIRMWARE_ERROR)
            self._reset(registers.RESET_UNKNOWN)

    def deliver(self, data: bytes) -> None:
        """Bytes reach the board now; the firmware passes at once, as its fast loop would."""
        with self.lock:
            if self.node is not None:
                self.board.received += data
                self.firmware_pass()

    def listen(self, send: Callable[[bytes], None]) -> None:
        """Hold the board's port: `send` is called with each piece the firmware writes. The last one to ask has it."""
        self.board.send = send

    def _reset(self, cause: int) -> None:
        board = self.board
        board.pins_off()
        self.node = None
        self._hung = False
        self._cause = cause
        self._booted_ms = board.now_ms + self.design.boot_ms

    def _boot(self) -> None:
        self.board.power_up(self._cause)
        self.truth.note("boot", self.board.reset_cause)
        self.node = Node(self.board)

    # --- what may happen ------------------------------------------------------------------------------------------
    def door(self, is_open: bool) -> None:
        """Open or close the door."""
        with self.lock:
            if is_open != self.truth.door_open:
                self.truth.door_open = self.plant.door_open = is_open
                self.truth.note("door", int(is_open))

    def press_stop(self, down: bool = True) -> None:
        """Press the stop button, or release it."""
        with self.lock:
            if down != self.truth.stop_pressed:
                self.truth.stop_pressed = down
                self.truth.note("stop", int(down))

    def air_sensor(self, fault: AirFault | str) -> None:
        """Break the air sensor, or repair it with 'ok'. Drift grows from now on at board.air_chip.drift_k_h."""
        with self.lock:
            self.board.air_chip.fault = AirFault(fault)
            self.board.air_chip.drift_since_ms = self.board.now_ms

    def ntc(self, bank: int, fault: BankFault | str) -> None:
        """Break a bank's thermistor (bank from 0), or repair it with 'ok'."""
        with self.lock:
            self.board.bank_fault[bank] = BankFault(fault)
            self.board.settle_dividers()

    @property
    def fan_dead(self) -> bool:
        """The fan stands still whatever drives it. Settable."""
        return self.plant.fan_strength == 0

    @fan_dead.setter
    def fan_dead(self, dead: bool) -> None:
        self.plant.fan_strength = 0.0 if dead else self.design.fan_strength

    @property
    def ambient_c(self) -> float:
        """Room temperature, C. Settable."""
        return self.plant.ambient_c

    @ambient_c.setter
    def ambient_c(self, temp_c: float) -> None:
        self.plant.ambient_c = temp_c

    @property
    def extra_heat_w(self) -> float:
        """Heat brought into the chamber's air by something that is no lamp, W. Settable."""
        return self.plant.extra_heat_w

    @extra_heat_w.setter
    def extra_heat_w(self, heat_w: float) -> None:
        self.plant.extra_heat_w = heat_w

    def reboot(self) -> None:
        """Power cycle of the board: dark at once, firmware back after its boot time."""
        with self.lock:
            self.board.left = False
            self._reset(registers.RESET_POWER_ON)

    def hang(self) -> None:
        """The firmware stops in its tracks, outputs as they are, until the watchdog resets it."""
        with self.lock:
            self._hung = self.node is not None

    def crash(self) -> None:
        """An exception in the firmware at its next pass, as when memory runs out."""
        with self.lock:
            self.board.read = self._fail  # type: ignore[method-assign]

    def _fail(self) -> bytes:
        del self.board.read
        raise MemoryError("memory allocation failed")
