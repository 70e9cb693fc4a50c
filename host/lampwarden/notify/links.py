"""Links in messages that call to a checkpoint. Each opens that checkpoint once, for who has no password at hand.

A link is signed, not kept: it names what it opens and until when. What was used up is kept by those who let people in.
The secret lies in the data folder; whoever deletes it makes all links void that were sent before.
"""

import logging
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from itsdangerous import BadData, URLSafeSerializer

from ..engine import Session
from ..errors import NotAllowed
from ..store.outbox import Delivery
from ..store.private import replace_privately

log = logging.getLogger(__name__)

FILE = "link_secret"
PATH = "/call/"
HOLDS_S = 86_400.0
"""A link opens its checkpoint for so long after it was sent, s, if that is not answered before."""
_SECRET_LETTERS = 64


@dataclass(frozen=True, slots=True)
class Call:
    """What a link opens."""

    chamber_id: str
    session_id: str
    checkpoint: str
    number: str
    """Of the message and its channel: each copy can be used once."""
    until_s: float
    """End of it, s since 1970."""


class Links:
    """Signs links and reads them. `now_s`: seconds since 1970. Raises StoreError if the folder takes no secret."""

    def __init__(self, folder: Path, now_s: Callable[[], float] = time.time) -> None:
        self._now_s = now_s
        self._signer = URLSafeSerializer(
            _secret(folder / FILE),
            salt="checkpoint",
            signer_kwargs={"key_derivation": "hmac", "digest_method": sha256},
        )

    def path(self, delivery: Delivery) -> str:
        """Where a message leads: to the checkpoint it calls to, to a session's results, or else to the page Now."""
        if delivery.kind == "follow_up_due" and delivery.session_id is not None:
            return f"/results/{delivery.chamber_id}/{delivery.session_id}"
        if not delivery.checkpoint or delivery.session_id is None:
            return f"/now/{delivery.chamber_id}"
        number = sha256(delivery.channel.encode()).hexdigest()[:8]
        until_s = int(self._now_s() + HOLDS_S)
        named = [delivery.chamber_id, delivery.session_id, delivery.checkpoint, f"{delivery.number}-{number}", until_s]
        return f"{PATH}{_text(self._signer.dumps(named))}"

    def read(self, path: str) -> Call:
        """What the link of this path opens. Raises NotAllowed, which says why it opens nothing and what to do."""
        try:
            call = Call(*self._signer.loads(path.removeprefix(PATH)))
        except BadData:
            raise NotAllowed(
                "This link is not whole, or not from this host. Copy all of it from the message, or sign in."
            ) from None
        if call.until_s <= self._now_s():
            raise NotAllowed("This link is more than a day old. Take the one in the newest message, or sign in.")
        return call


def why_closed(call: Call, session_id: str | None, session: Session | None) -> str:
    """Why there is nothing to answer any more at this checkpoint, as a sentence; empty: there still is.

    `session_id`, `session`: the one the chamber has now.
    """
    if session is None or session_id != call.session_id or not session.active:
        return f"The session with photo '{call.checkpoint}' is over."
    if call.checkpoint not in (each.name for each in session.program.checkpoints[session.checkpoints_passed :]):
        return f"Photo '{call.checkpoint}' was answered already, or is no longer in the plan."
    return ""


def _secret(path: Path) -> str:
    try:
        kept = path.read_text(encoding="ascii").strip()
        if len(kept) >= _SECRET_LETTERS:
            return kept
        log.warning("%s holds no secret; links that were sent before are void.", path)
    except FileNotFoundError:
        pass
    except (OSError, UnicodeDecodeError) as error:
        log.warning("%s cannot be read (%s); links that were sent before are void.", path, error)
    made = secrets.token_hex(_SECRET_LETTERS // 2)
    replace_privately(path, made)
    return made


def _text(signed: str | bytes) -> str:
    return signed if isinstance(signed, str) else signed.decode()
