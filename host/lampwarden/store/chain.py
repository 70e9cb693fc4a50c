"""The chain over the journal: each line's hash covers what it says and the hash of the line before it.

A line that is changed, taken out, put in or moved no longer fits its neighbours (verify.py finds it). The chain holds
no secret: whoever may write the whole file can reckon it anew from any line on. Against that only a head helps that is
kept elsewhere, on paper or in a backup.

Never change the recipe: the hashes on disk were made by it.
"""

import hashlib
import json

GENESIS = bytes(32)
"""Stands for the hash before the first line."""

Content = tuple[str, str | None, str, float, str, str, str]
"""chamber_id, session_id, kind, run_s, utc, text, data; `data` is the JSON text as it is stored."""


def content_of(
    chamber_id: str, session_id: str | None, kind: str, run_s: float, utc: str, text: str, data: str
) -> Content:
    """What the hash covers, as the database will give it back: whole numbers become floats, -0.0 becomes 0.0."""
    return (chamber_id, session_id, kind, float(run_s) + 0.0, utc, text, data)


def link(previous: bytes, content: Content) -> bytes:
    """The hash of a line, 32 bytes: SHA-256 over the hash before it and its content as a JSON array in UTF-8.

    The array has no spaces and plain letters unescaped; run_s is written with the fewest digits that name it (5.0).
    The line's number is not in it: it is the line's place in the chain. Bytes that are no UTF-8, from a file that
    was tampered with, count as they are.
    """
    said = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return hashlib.sha256(previous + said.encode(errors="surrogateescape")).digest()
