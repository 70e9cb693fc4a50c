"""Who asks, as the gate found out and everything behind it is told."""

from collections.abc import Callable
from dataclasses import dataclass

from ...notify.links import Call
from .people import Role

PERSON = "lampwarden.person"
"""Key of the Person in the request's scope."""


@dataclass(frozen=True, slots=True)
class Person:
    """Who asks."""

    role: Role | None
    """None: nobody has to sign in, and everybody may operate."""
    may_operate: Callable[[], bool]
    """Whether they may still operate; False once they have signed out."""
    call: Callable[[], Call | None] = lambda: None
    """The checkpoint they may answer though they may only watch: they came by the link in a message."""
