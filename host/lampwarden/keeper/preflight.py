"""What must be right before a session may begin. Pure: a sentence per thing that is wrong, with what to do."""

from ..domain.chamber import Chamber
from ..domain.program import Program
from ..engine.holds import sane_temp
from .snapshot import BoardView


def preflight(program: Program, chamber: Chamber, board: BoardView, storage_trouble: str | None) -> list[str]:
    """Sentences for everything that forbids a start; empty if the session may begin."""
    wrong = program.fits(chamber)
    if storage_trouble is not None:
        wrong.append(f"The journal cannot be written: {storage_trouble}")
    if board.trouble is not None or board.live is None or board.identity is None:
        return [*wrong, f"The board does not answer: {board.trouble or 'it was not reached yet'}"]
    live, identity, limits = board.live, board.identity, program.limits
    if board.unproved is not None:
        wrong.append(board.unproved)
    if live.trip_cause:
        wrong.append(f"The board has tripped: {live.trip_text}. Mend the cause and clear the trip.")
    if live.door_open:
        wrong.append("The door is open. Close it.")
    if live.stop_pressed:
        wrong.append("The stop button is down. Release it.")
    if identity.zone_count < len(chamber.zones):
        wrong.append(
            f"The board has {identity.zone_count} zones, the chamber is described with {len(chamber.zones)}."
            " Correct the chamber or the board."
        )
    if identity.bank_count < chamber.bank_count:
        wrong.append(f"The board has {identity.bank_count} bank sensors, the chamber has {chamber.bank_count} banks.")
    for what, limit_c, ceiling_c in (
        ("air_hard_c", limits.air_hard_c, identity.air_ceiling_c),
        ("bank_hard_c", limits.bank_hard_c, identity.bank_ceiling_c),
    ):
        if not limit_c <= ceiling_c:
            wrong.append(f"{what} is {limit_c:g} °C, above the board's own ceiling of {ceiling_c:g} °C. Lower it.")
    if not sane_temp(live.air_temp_c):
        wrong.append(f"The air sensor gives no usable value ({live.air_status}). Check its cable.")
    elif live.air_temp_c is not None and not live.air_temp_c < limits.air_soft_c:
        wrong.append(
            f"Air is {live.air_temp_c:.1f} °C, not below the soft limit of {limits.air_soft_c:.1f} °C. Let it cool."
        )
    for number, temp_c in enumerate(live.bank_temps_c[: chamber.bank_count], start=1):
        if not sane_temp(temp_c):
            wrong.append(f"The sensor of bank {number} gives no usable value. Check its cable.")
    return wrong
