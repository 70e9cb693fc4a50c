"""A session with readings by an instrument, so that nothing has to be rendered."""

from ..photos.conftest import chamber, pool, program, scene, sheet, two_photos

__all__ = ["chamber", "pool", "program", "scene", "sheet", "two_photos"]
