"""A yes, as it comes from a page or a script."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Confirmed:
    """A person's yes to one caution."""

    key: str
    """The caution's own key."""
    by: str
    text: str = ""
    """The sentence they said yes to; strong peroxide needs it word for word."""
