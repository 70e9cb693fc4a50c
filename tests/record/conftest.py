"""A session with readings by an instrument, so that nothing has to be rendered."""

from ..photos.conftest import chamber, program, scene, sheet

__all__ = ["chamber", "program", "scene", "sheet"]
