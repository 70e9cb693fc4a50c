"""What can go wrong with a photo."""

from enum import Enum, unique


@unique
class Fault(Enum):
    MARKER_COVERED = "marker covered"
    """A slip of paper lies over one whole marker."""
    MARKER_CUT = "marker cut"
    """It covers two fifths of one marker."""
    TWO_MARKERS_COVERED = "two markers covered"
    GLARE = "glare"
    """The lamp mirrors itself in the first large cell, far over saturation."""
    HAZE = "haze"
    """A diffuse highlight lies over the last large cell: a tenth of white more, nothing saturated."""
    BLUR = "blur"
    """Out of focus by two millimetres on the mask."""
    SHADOW = "shadow"
    """The edge of a hand's shadow runs across the mask."""
    WRONG_SHEET = "wrong sheet"
    """Another sheet's mask lies there, with fewer cells and another shape."""
    CHART_MISSING = "chart missing"
    SWATCHES_MOVED = "swatches moved"
    """They lie half beside their places."""
