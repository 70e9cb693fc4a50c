"""What a process that begins from command.FORKS has loaded already."""

import gc
import sys

sys.modules["pandas"] = None  # type: ignore[assignment]  # one of the tests' packages: others load it, and much with it

import uvicorn  # noqa: E402

import lampwarden.cli  # noqa: E402
import lampwarden.demo  # noqa: E402
import lampwarden.upkeep.commands  # noqa: E402
import lampwarden.web.app  # noqa: E402

__all__ = ["lampwarden", "uvicorn"]

gc.collect()
gc.freeze()  # a collection in a child would copy all this
