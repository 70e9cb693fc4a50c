"""Rehearsals: a plan on a simulated chamber like the real one, in the background."""

from ..domain.chamber import Chamber
from ..domain.plan import Plan
from ..domain.program import Program
from ..errors import ProgramError
from ..keeper import Clock
from ..rehearsing import Rehearsal, Rehearsing
from ..store.store import Store
from .shelf import Shelf


class Rehearsals(Shelf):
    """The part of the service that rehearses."""

    def __init__(self, store: Store, clock: Clock) -> None:
        super().__init__(store, clock)
        self._rehearsing = Rehearsing()

    def rehearse(self, what: str | Plan | tuple[Program, Chamber], by: str) -> Rehearsal:
        """Begins a rehearsal of a saved plan (its id), of one not saved yet, or of a program on any chamber.

        Raises NotNow while another is under way, ProgramError if the program does not fit the chamber, UnknownName.
        """
        if isinstance(what, tuple):
            program, chamber = what
            title = program.title
        else:
            plan = self.plan(what).plan if isinstance(what, str) else what
            program, chamber, title = plan.program, self._keeper(plan.chamber).chamber, plan.title
        wrong = program.fits(chamber)
        if wrong:
            raise ProgramError("\n".join(wrong))
        return self._rehearsing.begin(program, chamber, title, by)

    def rehearsal(self, rehearsal_id: str) -> Rehearsal:
        """A rehearsal as far as it has got, with its result at the end. Raises UnknownName."""
        return self._rehearsing.one(rehearsal_id)

    def rehearsed(self, chamber_id: str) -> bool:
        """True if a rehearsal for this chamber has come to its end since the daemon started."""
        return self._rehearsing.rehearsed(chamber_id)

    def cancel_rehearsal(self, rehearsal_id: str) -> None:
        """Ends a rehearsal that is under way. Raises UnknownName."""
        self._rehearsing.cancel(rehearsal_id)
