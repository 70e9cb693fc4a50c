"""Program and chamber files: TOML text to models and back, with errors that name line, key and remedy."""

import re
import tomllib
from collections.abc import Sequence
from typing import Any, TypeVar

import tomlkit
from pydantic import BaseModel, ValidationError

from ..errors import ProgramError
from .program import Program

M = TypeVar("M", bound=BaseModel)

_PLAIN = {
    "extra_forbidden": "this key is not known here; check its spelling or remove it",
    "missing": "this key is missing; add it",
    "model_type": "this should be a table; write its keys under a header, or in { }",
    "string_pattern_mismatch": "this has a space at an end, or a sign that does not belong here; leave it out",
    "string_type": "this should be text; put it in quotes",
    "tuple_type": "this should be a list; write one [[header]] for each entry, or put the entries in [ ]",
}
"""What to say instead of the model library's own message, by its kind of problem."""
_PATTERNS = {
    r"^[a-z0-9][a-z0-9_-]{0,31}$": "write it in small letters, digits, '-' and '_', up to 32 of them",
    r"^[A-Za-z][A-Za-z0-9-]{0,7}$": "begin it with a letter and go on with letters, digits or '-', up to 8 in all",
    r"^([0-9a-f]{64})?$": "this should be 64 digits of a SHA-256, in small letters",
}
"""What to say of text of the wrong form, by the form that is asked for."""


def parse(text: str, where: str = "program") -> Program:
    """The program written in TOML text. Raises ProgramError naming line, key and remedy.

    `where` is the file's name, for messages only.
    """
    return parse_as(Program, text, where)


def parse_as(model: type[M], text: str, where: str) -> M:
    """The same for any model, such as the chamber."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ProgramError(f"{where}: not valid TOML: {error}. Check quotes, brackets and '=' there.") from None
    try:
        return model.model_validate(data)
    except ValidationError as error:
        problems: list[dict[str, Any]] = [dict(problem) for problem in error.errors()]
        # A list whose parts are wrong is also reported as too short: the parts say it better.
        inner = {tuple(p["loc"][:depth]) for p in problems for depth in range(1, len(p["loc"]))}
        lines = [_sentence(text, where, p) for p in problems if tuple(p["loc"]) not in inner]
        raise ProgramError("\n".join(lines)) from None


def render(model: BaseModel) -> str:
    """A program, sheet or plan as TOML text that parses back to an equal one. Times are in seconds."""
    data = model.model_dump(mode="json", by_alias=True, exclude_none=True)
    return tomlkit.dumps(data)


def sentences(error: ValidationError) -> str:
    """What is wrong with a model that was made in the program and not read from a file, in sentences."""
    return "\n".join(
        _capital(f"{_key(p['loc'])}: {_message(dict(p))}." if p["loc"] else f"{_message(dict(p))}.")
        for p in error.errors()
    )


def _sentence(text: str, where: str, problem: dict[str, Any]) -> str:
    path = [part for part in problem["loc"] if part != "function-after"]
    message = _message(problem)
    # A missing key has no line of its own; a mistake of the whole file is shown where the name it speaks of is given.
    line = _line_of(text, path[:-1] if problem["type"] == "missing" else path) or _line_naming(text, message)
    key = _key(path)
    return f"{where}{f', line {line}' if line else ''}{f', {key}' if key else ''}: {message}."


def _key(path: Sequence[str | int]) -> str:
    return "".join(f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in path).lstrip(".")


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def _message(problem: dict[str, Any]) -> str:
    """What is wrong and what to do, without the full stop."""
    kind, given = problem["type"], problem["input"]
    if plain := _PATTERNS.get(str(problem.get("ctx", {}).get("pattern"))):
        return plain
    if kind in _PLAIN:
        return _PLAIN[kind]
    message = (
        str(problem["msg"])
        .removeprefix("Value error, ")
        .replace("Input should", "this should")
        .replace("String should", "this should")
    )
    shown = f", not {given!r}" if kind != "value_error" and isinstance(given, str | int | float) else ""
    return f"{message}{shown}"


def _line_of(text: str, path: list[str | int]) -> int | None:
    """Best line for a key path, from 1: follows [[table]] headers, inline tables and `key =` in order; or None."""
    lines = text.splitlines()
    at, found = 0, None
    for depth, part in enumerate(path):
        if isinstance(part, int):
            names = r"\s*\.\s*".join(re.escape(p) for p in path[:depth] if isinstance(p, str))
            header = re.compile(rf"\s*\[\[\s*{names}\s*\]\]")
            if header.match(lines[at]):
                hits = [n for n in range(at, len(lines)) if header.match(lines[n])]
            else:  # a list of inline tables
                hits = [n for n in range(at, len(lines)) for _ in range(lines[n].count("{"))]
            if part < len(hits):
                at = found = hits[part]
            continue
        key = re.compile(rf"\s*(?:\[+[^\]]*\b)?{re.escape(part)}\b\s*(?:=|\]+)")
        inline = re.compile(rf"[{{,]\s*{re.escape(part)}\s*=")
        for n in range(at, len(lines)):
            if key.match(lines[n]) or inline.search(lines[n]):
                at = found = n
                break
    return None if found is None else found + 1


def _line_naming(text: str, message: str) -> int | None:
    """The last line, from 1, that gives a name quoted in the message to something; or None.

    Of several names the one that is given least often: what is wrong with a pair is mostly with the rarer.
    """
    given: list[list[int]] = []
    for name in re.findall("'([^']+)'", message):
        gives = re.compile(rf"=\s*[\"']{re.escape(name)}[\"']")
        given.append([n for n, line in enumerate(text.splitlines(), start=1) if gives.search(line)])
    return min((lines for lines in given if lines), key=len, default=[None])[-1]
