"""Program and chamber files: TOML text to models and back, with errors that name line, key and remedy."""

import re
import tomllib
from typing import Any, TypeVar

import tomlkit
from pydantic import BaseModel, ValidationError

from ..errors import ProgramError
from .program import Program

M = TypeVar("M", bound=BaseModel)


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


def render(program: Program) -> str:
    """The program as TOML text that parses back to an equal Program. Times are in seconds."""
    data = program.model_dump(mode="json", by_alias=True, exclude_none=True)
    return tomlkit.dumps(data)


def _sentence(text: str, where: str, problem: dict[str, Any]) -> str:
    path = [part for part in problem["loc"] if part != "function-after"]
    line = _line_of(text, path)
    key = "".join(f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in path).lstrip(".")
    message = problem["msg"].removeprefix("Value error, ")
    if problem["type"] == "extra_forbidden":
        message = "this key is not known here; check its spelling or remove it"
    elif problem["type"] == "missing":
        message = "this key is missing; add it"
    return f"{where}{f', line {line}' if line else ''}{f', {key}' if key else ''}: {message}."


def _line_of(text: str, path: list[str | int]) -> int | None:
    """Best line for a key path: follows [[table]] headers and `key =` lines in order; None if not found."""
    lines = text.splitlines()
    at, found = 0, None
    for depth, part in enumerate(path):
        if isinstance(part, int):
            header = re.compile(
                r"\s*\[\[\s*" + r"\s*\.\s*".join(re.escape(str(p)) for p in path[:depth] if isinstance(p, str))
            )
            hits = [n for n in range(at, len(lines)) if header.match(lines[n]) and lines[n].rstrip().endswith("]]")]
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
