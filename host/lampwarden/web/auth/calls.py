"""What somebody may order who came by the link in a message: photograph and answer that one checkpoint."""

from collections.abc import Callable, Mapping
from typing import Any

from starlette.requests import Request

from ...errors import NotAllowed, UnknownName
from ...notify.links import Call, why_closed
from ...service import Service
from .person import PERSON, Person

ORDERS = frozenset(("answer", "read_photos", "take_photo", "light_inspection"))
"""Calls of the service that answer a checkpoint."""
WATCHING = "You may watch, but not give orders. Sign out, and sign in with the password for operating."


def closed(service: Service) -> Callable[[Call], str]:
    """Tells why there is nothing to answer any more at what a link opens, as a sentence; empty: there is."""

    def why(call: Call) -> str:
        try:
            snapshot = service.snapshot(call.chamber_id)
        except UnknownName as error:
            return str(error)
        return why_closed(call, snapshot.session_id, snapshot.session)

    return why


def check(call: Call | None, service: Service, order: str, named: Mapping[str, Any]) -> None:
    """Raises NotAllowed unless this order answers the checkpoint of the call. `named`: its arguments by name."""
    if call is None:
        raise NotAllowed(WATCHING)
    if order in ORDERS and named.get("chamber_id") == call.chamber_id and not named.get("sheet_id"):
        snapshot = service.snapshot(call.chamber_id)
        waiting = snapshot.session.open_checkpoint if snapshot.session is not None else None
        checkpoint = named.get("checkpoint") or (waiting.name if waiting is not None else "")
        session_id = named.get("session_id") or snapshot.session_id
        if (session_id, checkpoint) == (call.session_id, call.checkpoint):
            if why := why_closed(call, snapshot.session_id, snapshot.session):
                raise NotAllowed(f"{why} The link you came by is good for nothing else.")
            return
    raise NotAllowed(
        f"The link you came by lets you look, photograph and answer photo '{call.checkpoint}', and stop the lamps. For"
        " anything else sign out, and sign in with the password for operating."
    )


def check_request(request: Request, service: Service, order: str, **named: object) -> None:
    """The same for a request to the API, whoever sends it."""
    person: Person | None = request.scope.get(PERSON)
    if person is not None and not person.may_operate():
        check(person.call(), service, order, named)
