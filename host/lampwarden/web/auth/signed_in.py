"""Who is signed in. The browser holds a random token, this table its hash, and a file of it outlives a restart."""

import logging
import secrets
from collections.abc import Callable
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from ...errors import StoreError
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


class _Table(BaseModel):
    by_token_sha256: dict[str, _One] = {}
    marks: dict[str, str] = {}
    """Passwords and tokens that were last seen in the file of people, see `People.marks`."""


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
        token, now_s = secrets.token_urlsafe(32), self._now_s()
        valid = [(key, one) for key, one in self._table.by_token_sha256.items() if one.until_s > now_s]
        new = _One(role=role, password_mark=fingerprint(people.passwords[role]), until_s=now_s + STAYS_S)
        self._table.by_token_sha256 = dict([*valid[-SIGNED_IN_MAX + 1 :], (fingerprint(token), new)])
        return token

    def role(self, token: str, people: People) -> Role | None:
        """The role of who holds this token; None: nobody is signed in with it."""
        one = self._table.by_token_sha256.get(fingerprint(token))
        if one is None or one.until_s <= self._now_s():
            return None
        kept = people.passwords.get(one.role)
        return one.role if kept is not None and fingerprint(kept) == one.password_mark else None

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

    def save(self) -> None:
        """Writes the table down. Blocks. If that fails, a restart signs people out, and the log says why."""
        try:
            replace_privately(self._path, self._table.model_dump_json())
        except StoreError as error:
            log.warning("Sign-ins will not outlive a restart: %s", error)
