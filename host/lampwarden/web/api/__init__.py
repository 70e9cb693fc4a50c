"""The API under /api: what scripts may read and order.

models    what goes in and out, with examples
problems  errors as RFC 9457 problem bodies
shapes    snapshots and records turned into models
reading   GET routes
orders    POST routes
masks     masks of sheets, as files
shelf     sheets, plans and the schema of their files
starting  checks, starts, rehearsals, calibrations
"""

from .build import create_api

__all__ = ["create_api"]
