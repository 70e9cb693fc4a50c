"""Who is signed in. The browser holds a random token, this table its hash, and a file of it outlives a restart."""

import logging
import secrets
from collections.abc import Callable
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from ...errors import NotAllowed, StoreError
from ...notify.links import Call
from ...store.private import replace_privately
from .people import People, Role, fingerprint

log = logging.getLogger(__name__)

FILE = "signed_in.json"
STAYS_S = 30 * 86_400.0
"""A sign-in holds so long, s."""
SIGNED_IN_MAX = 200
"""So many browsers are signed in; of more the oldest is signed out."""


class _One(BaseModel):
    model_config = ConfigDict(frozen=True)

    role: Role
    password_mark: str
    """Mark of the password that was given: with another password the sign-in is over."""
    until_s: float
    """End of it, s since 1970."""
    password_of: Role | None = None
    """Whose password that was; None: the role's own."""
    call: Call | None = None
    """The checkpoint it may answer all the same: a link led there."""


class _Table(BaseModel):
    by_token_sha256: dict[str, _One] = {}
    marks: dict[str, str] = {}
    """Passwords and tokens that were last seen in the file of people, see `People.marks`."""
    used: dict[str, float] = {}
    """By number the links that were used, and when they would have ended, s since 1970."""


class SignedIn:
    """The table. `now_s`: seconds since 1970."""

    def __init__(self, folder: Path, now_s: Callable[[], float]) -> None:
        self._path, self._now_s = folder / FILE, now_s
        try:
            self._table = _Table.model_validate_json(self._path.read_bytes())
        except FileNotFoundError:
            self._table = _Table()
        except (OSError, ValidationError) as error:
            log.warning("%s cannot be read, so everybody has to sign in again: %s", self._path, error)
            self._table = _Table()

    def open(self, role: Role, people: People) -> str:
        """Signs in; the token for the browser."""
        mark = fingerprint(people.passwords[role])
        return self._keep(_One(role=role, password_mark=mark, until_s=self._now_s() + STAYS_S))

    def open_by_link(self, call: Call, people: People, token: str = "") -> str:
        """Uses a link up; the token for the browser that may now answer its checkpoint, and watch.

        `token`: that of the same browser, if it was signed in: what it may do already stays. Raises NotAllowed for a
        link that was used before.
        """
        now_s, before = self._now_s(), self._valid(token, people)
        if call.number in self._table.used:
            raise NotAllowed(
                "This link was used already; each opens once. Take the one in the newest message, or sign in."
            )
        self._table.used = {n: until_s for n, until_s in self._table.used.items() if until_s > now_s}
        self._table.used[call.number] = call.until_s
        if before is None:
            mark = fingerprint(people.passwords[Role.OPERATE])
            before = _One(role=Role.WATCH, password_of=Role.OPERATE, password_mark=mark, until_s=call.until_s)
        until_s = max(before.until_s, call.until_s)
        return self._keep(before.model_copy(update={"call": call, "until_s": until_s}), token)

    def role(self, token: str, people: People) -> Role | None:
        """The role of who holds this token; None: nobody is signed in with it."""
        one = self._valid(token, people)
        return one.role if one is not None else None

    def call(self, token: str, people: People) -> Call | None:
        """The checkpoint that who holds this token may answer though they may only watch."""
        one = self._valid(token, people)
        return one.call if one is not None and one.call is not None and one.call.until_s > self._now_s() else None

    def close(self, token: str) -> None:
        """Signs out."""
        self._table.by_token_sha256.pop(fingerprint(token), None)

    def changes(self, marks: dict[str, str]) -> list[str]:
        """What has changed among passwords and tokens since it was last asked, also before a restart; sentences."""
        before = self._table.marks
        if marks == before:
            return []
        self._table.marks = marks
        said = [
            f"{what} was {'changed' if what in before else 'set'}" for what in marks if marks[what] != before.get(what)
        ]
        said += [f"{what} was removed" for what in before if what not in marks]
        return [f"{text[:1].upper()}{text[1:]}." for text in said]

    def _valid(self, token: str, people: People) -> _One | None:
        one = self._table.by_token_sha256.get(fingerprint(token))
        if one is None or one.until_s <= self._now_s():
            return None
        kept = people.passwords.get(one.password_of or one.role)
        return one if kept is not None and fingerprint(kept) == one.password_mark else None

    def _keep(self, one: _One, token: str = "") -> str:
        """Keeps a sign-in under its token, or a new one."""
        if fingerprint(token) not in self._table.by_token_sha256:
            token = secrets.token_urlsafe(32)
        now_s, key = self._now_s(), fingerprint(token)
        valid = [(k, each) for k, each in self._table.by_token_sha256.items() if each.until_s > now_s and k != key]
        self._table.by_token_sha256 = dict([*valid[-SIGNED_IN_MAX + 1 :], (key, one)])
        return token

    def save(self) -> None:
        """Writes the table down. Blocks. If that fails, a restart signs people out, and the log says why."""
        try:
            replace_privately(self._path, self._table.model_dump_json())
        except StoreError as error:
            log.warning("Sign-ins will not outlive a restart: %s", error)
