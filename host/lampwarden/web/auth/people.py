"""The file of passwords and access tokens. It holds hashes only, and its owner alone reads it."""

import logging
import secrets
from enum import Enum, unique
from hashlib import sha256
from hmac import compare_digest
from pathlib import Path

import tomlkit
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from ...domain.chamber import Name
from ...domain.program_file import parse_as
from ...errors import ProgramError, StoreError
from ...store.private import replace_privately

log = logging.getLogger(__name__)

FILE = "people.toml"
PASSWORD_LETTERS_MIN = 10
PASSWORD_LETTERS_MAX = 200

# 19 MiB, 2 rounds, 1 lane: a published minimum for argon2id (OWASP, Password Storage Cheat Sheet; from memory). More
# would not fit beside a daemon on a small computer.
_HASHER = PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1)


@unique
class Role(Enum):
    """What somebody may do."""

    OPERATE = "operate"
    WATCH = "watch"


class Token(BaseModel):
    """An access token of a script, without the token itself."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Name
    role: Role
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$", repr=False)
    """Hash of the token. A token is 256 random bits: unlike a password it cannot be guessed from a plain hash."""


class People(BaseModel):
    """Everybody who is let in."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    passwords: dict[Role, str] = Field(default_factory=dict, repr=False)
    """By role the argon2id hash of its password. None at all: nobody has to sign in."""
    tokens: tuple[Token, ...] = Field(default=(), max_length=100)

    @field_validator("passwords")
    @classmethod
    def _are_hashes(cls, passwords: dict[Role, str]) -> dict[Role, str]:
        for role, kept in passwords.items():
            if not kept.startswith("$argon2id$"):
                raise ValueError(f"the password of '{role.value}' is no hash; `lampwarden password set` writes one")
        return passwords

    @model_validator(mode="after")
    def _fit_together(self) -> "People":
        names = [token.name for token in self.tokens]
        if len(set(names)) < len(names):
            raise ValueError("two tokens have the same name; give each its own")
        if self.passwords and Role.OPERATE not in self.passwords:
            raise ValueError("with a password for 'watch' alone nobody could operate; set one for 'operate' first")
        return self

    def by_password(self, password: str) -> Role | None:
        """The role that has this password; None: none has. Always takes as long as all roles together."""
        found = [role for role, kept in self.passwords.items() if _fits(kept, password)]
        return found[0] if found else None

    def by_token(self, token: str) -> Role | None:
        """The role of an access token; None: there is no such token."""
        asked = fingerprint(token)
        found = [each.role for each in self.tokens if compare_digest(each.sha256, asked)]
        return found[0] if found else None

    def with_password(self, role: Role, password: str) -> "People":
        """With a new password of a role. Raises ProgramError if it is too short, or that of another role."""
        if not PASSWORD_LETTERS_MIN <= len(password) <= PASSWORD_LETTERS_MAX:
            raise ProgramError(
                f"A password has {PASSWORD_LETTERS_MIN} to {PASSWORD_LETTERS_MAX} letters; this one has"
                f" {len(password)}. A few words that nobody else would put together are good."
            )
        if role is not Role.OPERATE and Role.OPERATE not in self.passwords:
            raise ProgramError(
                f"Set the password of the role 'operate' first: with one for '{role.value}' alone nobody could operate."
            )
        if any(_fits(kept, password) for other, kept in self.passwords.items() if other is not role):
            raise ProgramError("The other role has this password. Choose another: the password tells the roles apart.")
        return self.model_copy(update={"passwords": self.passwords | {role: _HASHER.hash(password)}})

    def without_password(self, role: Role) -> "People":
        """Without the password of 'watch', or without any: those who watch need somebody who operates."""
        left = {} if role is Role.OPERATE else {k: v for k, v in self.passwords.items() if k is not role}
        return self.model_copy(update={"passwords": left})

    def with_token(self, name: str, role: Role) -> tuple["People", str]:
        """With one more token, and the token itself: it is known only now. Raises ProgramError for a bad name."""
        if any(token.name == name for token in self.tokens):
            raise ProgramError(f"There is a token '{name}' already. Choose another name, or remove it first.")
        token = f"lw_{secrets.token_urlsafe(32)}"
        new = {"name": name, "role": role.value, "sha256": fingerprint(token)}
        data = self.model_dump(mode="json")
        return parse_as(People, tomlkit.dumps({**data, "tokens": [*data["tokens"], new]}), "--name"), token

    def without_token(self, name: str) -> "People":
        """Without one token. Raises ProgramError if there is none of that name."""
        if all(token.name != name for token in self.tokens):
            known = ", ".join(token.name for token in self.tokens) or "none"
            raise ProgramError(f"There is no token '{name}'. Tokens here: {known}.")
        return self.model_copy(update={"tokens": tuple(token for token in self.tokens if token.name != name)})

    def marks(self) -> dict[str, str]:
        """What is set up, each with a mark that changes with it; no secret follows from a mark."""
        roles = {f"the password of the role '{role.value}'": fingerprint(kept) for role, kept in self.passwords.items()}
        return roles | {
            f"the access token '{token.name}' (may {token.role.value})": fingerprint(token.sha256)
            for token in self.tokens
        }


class PeopleFile:
    """Reads the file anew when it has changed, and replaces it whole."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE
        self._seen: tuple[int, ...] | None = None
        self._people = People()
        self._trouble = ""

    def read(self) -> People:
        """Everybody who is let in. Raises ProgramError or StoreError for a file that cannot be used."""
        try:
            stat = self._path.stat()
            seen = (stat.st_mtime_ns, stat.st_size, stat.st_ino)
            if seen != self._seen:
                self._people = parse_as(People, self._path.read_text(encoding="utf-8"), FILE)
                self._seen = seen
        except FileNotFoundError:
            self._people, self._seen = People(), None
        except (OSError, UnicodeDecodeError) as error:
            raise StoreError(f"{self._path} cannot be read: {error}. See to its rights.") from None
        return self._people

    def newest(self) -> People:
        """The same; a file that cannot be used changes nothing, and the log says why."""
        try:
            self.read()
            self._trouble = ""
        except (ProgramError, StoreError) as error:
            if str(error) != self._trouble:
                log.warning("Passwords and tokens stay as they were before: %s", error)
            self._trouble = str(error)
        return self._people

    def write(self, people: People) -> None:
        """Replaces the file; the old one stays if that fails. Raises StoreError."""
        replace_privately(self._path, tomlkit.dumps(people.model_dump(mode="json")))


def fingerprint(secret: str) -> str:
    """SHA-256 in hexadecimal digits."""
    return sha256(secret.encode()).hexdigest()


def _fits(kept: str, password: str) -> bool:
    try:
        return _HASHER.verify(kept, password)
    except (VerificationError, InvalidHashError):
        return False
