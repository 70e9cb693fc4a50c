"""Passwords, sign-ins and waits together, and what the journal says about them."""

import logging
import threading
import time
from collections.abc import Callable
from pathlib import Path

from ...errors import LampwardenError, NotAllowed
from ...notify.links import Call, Links
from .patience import Patience
from .people import PeopleFile, Role
from .signed_in import SignedIn

log = logging.getLogger(__name__)

FAILED_LINE_S = 600.0
"""Least time between two journal lines about wrong passwords, s: whoever guesses shall not fill the disk."""

Report = Callable[[str, str], None]
"""Adds a line to the journal: its kind and its text. May raise LampwardenError."""


class Access:
    """Who may touch the chambers of one data folder.

    `must_sign_in`: the dashboard is open to the network; without a password nobody is let in. `watchers_stop`: those
    who watch may stop the lamps. `closed`: why a link opens nothing any more, as a sentence; empty: it does.
    """

    def __init__(
        self,
        folder: Path,
        report: Report,
        *,
        must_sign_in: bool = False,
        watchers_stop: bool = True,
        closed: Callable[[Call], str] = lambda call: "",
    ) -> None:
        self._report, self._closed, self._links = report, closed, Links(folder)
        self.must_sign_in, self.watchers_stop = must_sign_in, watchers_stop
        self._file = PeopleFile(folder)
        self._file.read()
        self._signed_in = SignedIn(folder, time.time)
        self._patience = Patience()
        self._at_work = threading.Lock()
        """One password is looked at at a time: each costs 20 MB."""
        self._failed = 0
        self._failed_line_s = -FAILED_LINE_S

    @property
    def password_set(self) -> bool:
        """True if one has to sign in."""
        return bool(self._file.newest().passwords)

    def changes(self) -> list[str]:
        """What has changed among passwords and tokens, as sentences for `note`; each is told once."""
        return self._signed_in.changes(self._file.newest().marks())

    def by_cookie(self, token: str) -> Role | None:
        """The role of a browser that is signed in."""
        return self._signed_in.role(token, self._file.newest())

    def by_token(self, token: str) -> Role | None:
        """The role of a script with an access token."""
        return self._file.newest().by_token(token)

    def wait_s(self, address: str) -> float:
        """How long an address has to wait before its next try, s; 0: not at all, and the try is counted."""
        return self._patience.wait_s(address, time.monotonic())

    def sign_in(self, password: str, address: str) -> str | None:
        """The token for a browser, or None if no role has this password. Blocks."""
        with self._at_work:
            people = self._file.newest()
            role = people.by_password(password)
            if role is None:
                self._wrong(address)
                return None
            self._patience.right(address)
            token = self._signed_in.open(role, people)
            self._signed_in.save()
        self._say("signed_in", f"Somebody at {address} signed in: may {role.value}.")
        return token

    def called(self, path: str) -> Call:
        """What the link of this path opens. Raises NotAllowed, which says why it opens nothing and what to do."""
        call = self._links.read(path)
        if why := self._closed(call):
            raise NotAllowed(why)
        return call

    def call_of(self, token: str) -> Call | None:
        """The checkpoint that who holds this token may answer though they may only watch."""
        return self._signed_in.call(token, self._file.newest())

    def open_by_link(self, path: str, token: str, address: str) -> tuple[Call, str]:
        """Uses a link up: what it opens, and the token for the browser. Raises NotAllowed. Blocks."""
        call = self.called(path)
        with self._at_work:
            token = self._signed_in.open_by_link(call, self._file.newest(), token)
            self._signed_in.save()
        self._say(
            "link_used",
            f"Somebody at {address} opened photo '{call.checkpoint}' by the link in a message: may look, photograph and"
            " answer it, and stop the lamps.",
        )
        return call, token

    def sign_out(self, token: str, address: str) -> None:
        """Ends a sign-in. Blocks."""
        role = self.by_cookie(token)
        with self._at_work:
            self._signed_in.close(token)
            self._signed_in.save()
        if role is not None:
            self._say("signed_out", f"Somebody at {address} signed out: could {role.value}.")

    def note(self, changes: list[str]) -> None:
        """Puts changes of passwords and tokens into the journal. Blocks."""
        with self._at_work:
            self._signed_in.save()
        for text in changes:
            self._say("access_changed", text)

    def _wrong(self, address: str) -> None:
        self._failed += 1
        if time.monotonic() - self._failed_line_s < FAILED_LINE_S:
            return
        often = "A wrong password was" if self._failed == 1 else f"{self._failed} wrong passwords were"
        self._say("sign_in_failed", f"{often} given, the last from {address}. More of them make wait longer.")
        self._failed, self._failed_line_s = 0, time.monotonic()

    def _say(self, kind: str, text: str) -> None:
        try:
            self._report(kind, text)
        except LampwardenError as error:
            log.warning("Not in the journal: %s (%s)", text, error)
