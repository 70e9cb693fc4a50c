"""The model of a chamber's air, fitted once for each new session: with many sessions that takes a second or two."""

import threading

from ....domain.chamber import Chamber
from ....light.forecast import SESSIONS_MAX
from ....planning import air_model
from ....planning.power import AirModel
from ....service import Service


class Airs:
    """Fitted models by chamber."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._fitted: dict[str, tuple[object, AirModel]] = {}

    def model(self, service: Service, chamber: Chamber) -> AirModel:
        """The chamber's model by all sessions that have ended. Blocks."""
        ended = tuple(s.id for s in service.sessions(chamber.id, SESSIONS_MAX) if s.ended is not None)
        seen = (chamber, ended)
        with self._guard:
            known = self._fitted.get(chamber.id)
            if known is None or known[0] != seen:
                known = (seen, air_model(chamber, service.air_history(chamber.id)))
                self._fitted[chamber.id] = known
        return known[1]
