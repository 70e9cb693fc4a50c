"""Errors as problem bodies (RFC 9457, application/problem+json). The one place where an error gets its status."""

import logging
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from ... import errors
from ...errors import LampwardenError
from ..auth.gate import COOKIE

log = logging.getLogger(__name__)

MEDIA_TYPE = "application/problem+json"

KINDS: dict[type[LampwardenError], tuple[str, int, str, bool]] = {
    errors.ProgramError: ("program-wrong", 422, "The program is wrong", False),
    errors.NotNow: ("not-now", 409, "Not in this state", False),
    errors.ChangedMeanwhile: ("changed-meanwhile", 409, "Changed meanwhile", False),
    errors.NotAllowed: ("not-allowed", 403, "Only watching", False),
    errors.UnknownName: ("unknown-name", 404, "Nothing of that name", False),
    errors.BoardSilent: ("board-silent", 503, "The board does not answer", True),
    errors.BoardConfused: ("board-confused", 502, "The board answers nonsense", True),
    errors.BoardRefused: ("board-refused", 502, "The board refused", False),
    errors.WrongBoard: ("wrong-board", 502, "Another device answers", False),
    errors.LinkError: ("board-trouble", 502, "Trouble with the board", True),
    errors.StoreFull: ("disk-full", 507, "The disk is full", False),
    errors.StoreError: ("record-trouble", 503, "The record cannot be written", True),
    errors.PhotoRefused: ("photo-refused", 422, "Nothing can be read from the photo", False),
    LampwardenError: ("refused", 400, "Not possible", False),
}
"""Type, status, title and whether a retry may help, by class; a class without a row takes that of its base."""


class Fault(BaseModel):
    """One thing that is wrong with the request."""

    where: str = Field(examples=["body.by"], description="Place in the request; empty if it concerns the whole.")
    message: str = Field(examples=["zone 'A7' is not in this chamber"])


class Problem(BaseModel):
    """Why a request was not carried out. Nothing was changed unless the text says so."""

    type: str = Field(examples=["/api/problems#not-now"], description="Kind of problem, for programs.")
    title: str = Field(examples=["Not in this state"], description="Kind of problem, for people.")
    status: int = Field(examples=[409])
    detail: str = Field(
        examples=["no checkpoint waits for an answer"], description="What happened, where, and what to do."
    )
    retry: bool = Field(default=False, description="True: the same request may succeed later by itself.")
    faults: list[Fault] = Field(default_factory=list, description="Each single thing that is wrong, if known.")


class Kind(BaseModel):
    """One kind of problem."""

    type: str
    status: int
    title: str
    about: str


def responses(*kinds: type[LampwardenError]) -> dict[int | str, dict[str, Any]]:
    """The OpenAPI text for the problems a route may answer with."""
    return {KINDS[kind][1]: {"model": Problem, "description": KINDS[kind][2]} for kind in kinds}


_BEFORE = {
    "401": "A password is set: sign in, or send an access token",
    "403": "Only watching; or asked by another web page",
}
"""What is refused before a request comes to its route, see web/auth and web/guard.py."""
_BEFORE_A_BODY = {"411": "Length missing", "413": "Too much"}
_OPEN = ("/health",)
"""Addresses that need no sign-in."""


def describe(openapi: dict[str, Any]) -> dict[str, Any]:
    """The framework's description with every refusal as what it is: a problem body, wrong requests included.

    And with those that come from before the API: who asks, from where, and how much.
    """
    openapi["components"]["securitySchemes"] = {
        "token": {"type": "http", "scheme": "bearer", "description": "An access token: `lampwarden password token`."},
        "signed_in": {"type": "apiKey", "in": "cookie", "name": COOKIE, "description": "The cookie of /sign-in."},
    }
    # The last one, nothing: as long as no password is set.
    openapi["security"] = [{"token": []}, {"signed_in": []}, {}]
    for path, item in openapi["paths"].items():
        for operation in item.values():
            if path in _OPEN:
                operation["security"] = []
            before = {} if path in _OPEN else _BEFORE | (_BEFORE_A_BODY if "requestBody" in operation else {})
            for status, about in before.items():
                operation["responses"].setdefault(status, {"description": about})
            for status, answer in operation["responses"].items():
                if status.startswith(("4", "5")):
                    answer["content"] = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for unused in ("HTTPValidationError", "ValidationError"):
        openapi["components"]["schemas"].pop(unused, None)
    return openapi


def install(api: FastAPI) -> None:
    """Turns every error of the API into a problem body."""
    api.add_exception_handler(LampwardenError, _expected)
    api.add_exception_handler(RequestValidationError, _invalid)
    api.add_exception_handler(HTTPException, _http)
    api.add_exception_handler(Exception, _unexpected)

    @api.get("/problems", tags=["Problems"], summary="Kinds of problems")
    def kinds() -> list[Kind]:
        """What the `type` of a problem body means."""
        return [
            Kind(type=f"/api/problems#{name}", status=status, title=title, about=cls.__doc__ or "")
            for cls, (name, status, title, _) in KINDS.items()
        ]


def kind_of(error: LampwardenError) -> tuple[str, int, str, bool]:
    """Type, status, title and retry of an error, from the nearest class that has a row."""
    return next(KINDS[cls] for cls in type(error).__mro__ if cls in KINDS)


def _answer(problem: Problem) -> JSONResponse:
    return JSONResponse(problem.model_dump(), problem.status, media_type=MEDIA_TYPE)


async def _expected(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, LampwardenError)
    name, status, title, retry = kind_of(error)
    faults = [Fault(where="", message=line) for line in str(error).splitlines()]
    detail = str(error)[:1].upper() + str(error)[1:]
    return _answer(
        Problem(
            type=f"/api/problems#{name}",
            title=title,
            status=status,
            detail=detail,
            retry=retry,
            faults=faults if len(faults) > 1 else [],
        )
    )


async def _invalid(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, RequestValidationError)
    faults = [
        Fault(where=".".join(map(str, found["loc"])), message=found["msg"].removeprefix("Value error, "))
        for found in error.errors()
    ]
    return _wrong("; ".join(f"{fault.where}: {fault.message}" for fault in faults), faults)


def _wrong(detail: str, faults: list[Fault]) -> JSONResponse:
    title = "The request is wrong"
    return _answer(Problem(type="/api/problems#request-wrong", title=title, status=422, detail=detail, faults=faults))


async def _http(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    if error.status_code == 400:  # the framework's word for a body it cannot read at all
        return _wrong("The body cannot be read. Send what the description names, JSON as UTF-8.", [])
    detail = f"{error.detail}. The addresses and methods there are: see /api/openapi.json"
    problem = Problem(type="about:blank", title=str(error.detail), status=error.status_code, detail=detail)
    answer = _answer(problem)
    answer.headers.update(error.headers or {})
    return answer


async def _unexpected(request: Request, error: Exception) -> JSONResponse:
    about = {"chamber_id": request.path_params.get("chamber_id")}
    log.error("%s %s failed", request.method, request.url.path, exc_info=error, extra=about)
    detail = "A mistake in the program; please report it. The chamber goes on as it was. The log tells more."
    return _answer(Problem(type="/api/problems#mistake", title="A mistake in the program", status=500, detail=detail))
