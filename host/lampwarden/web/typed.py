"""Numbers as people type them, with point or comma, with or without their unit. Pure."""

from ..errors import ProgramError


def number(text: str, what: str, low: float, high: float, unit: str = "mm") -> float:
    """The number. Raises ProgramError with what is possible, such as 'The width can be 10 to 2000 mm, not 5.'"""
    tail = f" {unit}" if unit else ""
    try:
        value = float(text.replace(",", ".").strip().removesuffix(unit))
    except ValueError:
        raise ProgramError(f"Write the {what} as a number, {low:g} to {high:g}{tail}.") from None
    if not low <= value <= high:
        raise ProgramError(f"The {what} can be {low:g} to {high:g}{tail}, not {value:g}.")
    return value


def whole(text: str, what: str, low: int, high: int) -> int:
    """The same for a whole number."""
    value = number(text, what, low, high, "")
    if value != int(value):
        raise ProgramError(f"The {what} is a whole number, {low} to {high}.")
    return int(value)
