"""The API built once for many tests: its routes take half a second each time. What they serve changes with the test."""

from functools import cache
from typing import Any, cast

from fastapi import FastAPI

from lampwarden.record.archive import ARCHIVE, Archive
from lampwarden.service import Service
from lampwarden.web.api import create_api


class _Seat:
    """Passes on to whatever sits in it."""

    sitter: Any = None

    def __getattr__(self, name: str) -> Any:
        return getattr(self.sitter, name)


_SERVICE, _ARCHIVE = _Seat(), _Seat()


@cache
def _api() -> FastAPI:
    return create_api(cast(Service, _SERVICE), cast(Archive, _ARCHIVE))


def api_of(service: Service) -> FastAPI:
    """The API over this service, and from now on over no other."""
    _SERVICE.sitter, _ARCHIVE.sitter = service, Archive(service.folder() / ARCHIVE)
    return _api()
