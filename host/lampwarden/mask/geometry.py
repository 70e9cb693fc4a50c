"""Where everything on a mask is. The printed page and the reading of photos both follow these numbers.

One coordinate system: millimetres from the upper left corner of the mask's frame (its outer cut line), x to the right
and y down, seen from above with the arrow at the top.
"""

import hashlib

from pydantic import Field

from ..domain.sheet import Part

DICTIONARY = "DICT_ARUCO_MIP_36h12"
"""ArUco dictionary, by its name in OpenCV. Any two of its markers differ in 12 or more of 36 bits however they are
turned, so that print on the sheet is hardly ever taken for a marker, and five misread bits are mended. (S.
Garrido-Jurado et al., Pattern Recognition 51, 2016, 481-491.) Its finer modules are no loss: at 16 mm one is 2 mm."""
MARKER_BITS = {
    0: ("110100", "101011", "011000", "111010", "000010", "011101"),
    1: ("011000", "000000", "000100", "010011", "010011", "100101"),
    2: ("000100", "100000", "011011", "111011", "111001", "110010"),
    3: ("111111", "111000", "101011", "010110", "110010", "110100"),
}
"""Rows of the markers used, 1 white, without the black rim of one module. Read from OpenCV 5.0; a test compares. As
data they spare the daemon OpenCV. These four differ from each other in at least 18 bits (computed)."""
MARKER_IDS = (0, 1, 2, 3)
"""Clockwise from the upper left corner: the number alone tells the corner, and so how the photo is turned."""
MARKER_MM = 16.0
"""Edge of a marker. 8 modules of 2 mm: above 4 pixels each when an A3 mask fills a photo of 1200 pixels' height."""
QUIET_MM = 4.0
"""White kept around a marker. The standard asks for one module (2 mm); dark cloth and cut edges get the rest."""
SPOT_MM = 6.0
"""Edge of a white spot for the flat-field: 30 x 30 pixels or more in a photo of 2000 pixels across an A3 mask."""
CLEAR_MM = 2.0
"""Nothing printed or cut comes nearer to a white spot: openings throw a shadow, and photos are placed to 1 mm or so."""
CELL_MIN_MM = 10.0
"""Smallest edge of an opening. A hand-cut edge (0.5 mm) and a photo's placing with three markers or lens distortion
(1.2 mm, rendered photos) take about 2 mm from each side; 6 x 6 mm remain to be measured."""
BRIDGE_MIN_MM = 6.0
"""Least paper between two openings: narrower strips of card bend or tear, and the cell's name stands there."""
RULER_MM = 100.0
PATCH_COLUMNS, PATCH_ROWS = 6, 4
GREY_STEPS = 6


class Box(Part):
    """An upright rectangle, mm."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    @classmethod
    def around(cls, x_mm: float, y_mm: float, width_mm: float, height_mm: float | None = None) -> "Box":
        """The box with its centre there; a square if no height is given."""
        height_mm = width_mm if height_mm is None else height_mm
        return cls(x_mm=x_mm - width_mm / 2, y_mm=y_mm - height_mm / 2, width_mm=width_mm, height_mm=height_mm)

    @property
    def right_mm(self) -> float:
        return self.x_mm + self.width_mm

    @property
    def bottom_mm(self) -> float:
        return self.y_mm + self.height_mm

    @property
    def centre_mm(self) -> tuple[float, float]:
        return self.x_mm + self.width_mm / 2, self.y_mm + self.height_mm / 2

    @property
    def corners_mm(self) -> tuple[tuple[float, float], ...]:
        """Clockwise from the upper left, as ArUco detection gives them for an upright marker."""
        left, top, right, bottom = self.x_mm, self.y_mm, self.right_mm, self.bottom_mm
        return (left, top), (right, top), (right, bottom), (left, bottom)

    def grown(self, by_mm: float) -> "Box":
        """The box with that much more on every side."""
        return Box(
            x_mm=self.x_mm - by_mm,
            y_mm=self.y_mm - by_mm,
            width_mm=self.width_mm + 2 * by_mm,
            height_mm=self.height_mm + 2 * by_mm,
        )

    def moved(self, x_mm: float, y_mm: float) -> "Box":
        return self.model_copy(update={"x_mm": self.x_mm + x_mm, "y_mm": self.y_mm + y_mm})

    def turned(self, height_mm: float) -> "Box":
        """The box after an area of this height, with its corner at 0, 0, was turned clockwise by a quarter."""
        return Box(x_mm=height_mm - self.bottom_mm, y_mm=self.x_mm, width_mm=self.height_mm, height_mm=self.width_mm)

    def gap_mm(self, other: "Box") -> float:
        """The wider of the two distances, across and down; 0 or less if the boxes touch or overlap."""
        return max(
            other.x_mm - self.right_mm,
            self.x_mm - other.right_mm,
            other.y_mm - self.bottom_mm,
            self.y_mm - other.bottom_mm,
        )


class Marker(Part):
    """One ArUco marker."""

    id: int
    box: Box


class Aperture(Part):
    """One cell as the mask shows it."""

    name: str
    box: Box
    """The cell's own area. Open: cut out along its edge."""
    open: bool
    """False: covered, only its outline is printed."""
    treatment: str
    label: Box
    """Where the name is printed."""


class Chart(Part):
    """The place of a chart of 24 patches."""

    box: Box
    turned: bool = False
    """It lies a quarter turn clockwise: the first patch is at the upper right, the second below it."""

    def patches(self) -> tuple[Box, ...]:
        """24 squares to sample, in the chart's own order by rows.

        The place is divided evenly into 6 x 4, and the inner half of each part taken: charts differ in their rims.
        """
        long_mm, short_mm = self.box.width_mm, self.box.height_mm
        if self.turned:
            long_mm, short_mm = short_mm, long_mm
        pitch_x_mm, pitch_y_mm = long_mm / PATCH_COLUMNS, short_mm / PATCH_ROWS
        boxes = (
            Box.around((column + 0.5) * pitch_x_mm, (row + 0.5) * pitch_y_mm, min(pitch_x_mm, pitch_y_mm) / 2)
            for row in range(PATCH_ROWS)
            for column in range(PATCH_COLUMNS)
        )
        return tuple(
            (box.turned(short_mm) if self.turned else box).moved(self.box.x_mm, self.box.y_mm) for box in boxes
        )


class Paper(Part):
    """A size of paper, upright or lying."""

    name: str
    width_mm: float = Field(ge=100, le=2000)
    height_mm: float = Field(ge=100, le=2000)

    @property
    def turned(self) -> "Paper":
        return Paper(name=self.name, width_mm=self.height_mm, height_mm=self.width_mm)


class Mask(Part):
    """A whole mask. Keep it with the trial (`model_dump_json`): photos are read by the mask that was printed."""

    sheet: str
    """Id of the sheet."""
    title: str
    open_all: bool
    """True: covered cells are open too, for photos. False: the mask for the light."""
    width_mm: float
    height_mm: float
    sheet_x_mm: float
    """The sheet's upper left corner, in the mask's coordinates."""
    sheet_y_mm: float
    sheet_width_mm: float
    sheet_height_mm: float
    markers: tuple[Marker, ...]
    apertures: tuple[Aperture, ...]
    white: tuple[Box, ...]
    """Spots of bare paper, for the flat-field."""
    chart: Chart
    greys: tuple[Box, ...]
    """Six steps, the white one first."""
    swatches: tuple[Box, ...]
    """Places for pieces of the same paper, untreated and kept in the dark."""
    ruler: Box
    """The ruler with its numbers; its line runs along the upper edge and is 100 mm long."""
    arrow: Box
    """The arrow that points to the top."""
    paper: Paper
    page_x_mm: float
    """The frame's upper left corner, from the paper's upper left corner."""
    page_y_mm: float

    @property
    def code(self) -> str:
        """Six characters that change when anything moves; printed, so that print and record can be matched."""
        return hashlib.sha256(self.model_dump_json().encode()).hexdigest()[:6]
