"""A small pen for wiring diagrams: boxes, wires and circuit symbols as SVG. Pure: calls in, SVG text out.

Coordinates are in user units, y downwards. Symbols are drawn at their centre; their two ends lie on the wire.
The paper is opaque, so that the drawing reads on light and dark pages and in print.
"""

from collections.abc import Sequence
from html import escape

STYLE = """
text { font-family: "Liberation Sans", Arial, Helvetica, sans-serif; font-size: 16px; fill: #1c2530; }
.title { font-size: 21px; font-weight: bold; }
.name { font-weight: bold; }
.pin { fill: #1a4f8f; font-weight: bold; }
.note { fill: #8c1d18; font-style: italic; }
.paper { fill: #fcfbf7; }
.zone { fill: #fbeae8; }
.box { fill: #ffffff; stroke: #1c2530; stroke-width: 2; }
.board { fill: #e9f0f8; stroke: #1a4f8f; stroke-width: 2.5; }
.wire { fill: none; stroke-linejoin: round; stroke-linecap: round; }
.lamp { stroke: #b3261e; stroke-width: 4.5; }
.always { stroke: #8a5a00; stroke-width: 3; }
.signal { stroke: #1a4f8f; stroke-width: 2; }
.zero { stroke: #1c2530; stroke-width: 3; }
.thin { stroke: #1c2530; stroke-width: 2; }
.link { stroke: #1c2530; stroke-width: 1.5; stroke-dasharray: 6 5; }
.part { fill: #fcfbf7; stroke: #1c2530; stroke-width: 2; stroke-linecap: round; stroke-linejoin: round; }
.solid { fill: #1c2530; }
"""

Point = tuple[float, float]


class Canvas:
    def __init__(self, width: int, height: int, title: str, description: str) -> None:
        self.parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">',
            f"<title>{escape(title)}</title>",
            f"<desc>{escape(description)}</desc>",
            f"<style>{STYLE}</style>",
            f'<rect class="paper" width="{width}" height="{height}" rx="10"/>',
        ]

    def svg(self) -> str:
        return "\n".join([*self.parts, "</svg>"]) + "\n"

    def put(self, element: str) -> None:
        self.parts.append(element)

    # --- words, boxes, wires ---
    def text(self, x: float, y: float, words: str, style: str = "", anchor: str = "start") -> None:
        """One line of text; y is its base line."""
        self.put(f'<text x="{x:g}" y="{y:g}" class="{style}" text-anchor="{anchor}">{escape(words)}</text>')

    def box(
        self, x: float, y: float, width: float, height: float, words: Sequence[str] = (), style: str = "box"
    ) -> None:
        """A box by its upper left corner; its words stand in the middle, the first line bold."""
        self.put(f'<rect class="{style}" x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="6"/>')
        top = y + height / 2 - 10 * len(words) + 15
        for line, word in enumerate(words):
            self.text(x + width / 2, top + 20 * line, word, "" if line else "name", "middle")

    def wire(self, kind: str, *points: Point) -> None:
        """kind: lamp, always, signal, zero, thin, link."""
        drawn = " ".join(f"{x:g},{y:g}" for x, y in points)
        self.put(f'<polyline class="wire {kind}" points="{drawn}"/>')

    def wire_with_gaps(self, kind: str, x: float, top: float, bottom: float, gaps: Sequence[float]) -> None:
        """An upright wire that leaves room for a contact, 36 high, around each y in gaps."""
        ends = [top, *(end for y in gaps for end in (y - 18, y + 18)), bottom]
        for start, end in zip(ends[::2], ends[1::2], strict=True):
            self.wire(kind, (x, start), (x, end))

    def dot(self, x: float, y: float) -> None:
        self.put(f'<circle class="solid" cx="{x:g}" cy="{y:g}" r="4.5"/>')

    def path(self, shape: str, style: str = "part") -> None:
        self.put(f'<path class="{style}" d="{shape}"/>')

    # --- symbols ---
    def ground(self, x: float, y: float) -> None:
        """0 V: three bars below the end of a wire."""
        self.path(f"M{x - 12:g} {y:g}h24M{x - 8:g} {y + 5:g}h16M{x - 4:g} {y + 10:g}h8")

    def resistor(self, x: float, y: float, upright: bool = True) -> None:
        width, height = (14, 36) if upright else (36, 14)
        self.put(f'<rect class="part" x="{x - width / 2:g}" y="{y - height / 2:g}" width="{width}" height="{height}"/>')

    def ntc(self, x: float, y: float) -> None:
        self.resistor(x, y)
        self.path(f"M{x - 16:g} {y + 16:g}h7L{x + 13:g} {y - 16:g}", "wire thin")

    def fuse(self, x: float, y: float, upright: bool = True) -> None:
        self.resistor(x, y, upright)
        self.path(f"M{x:g} {y - 18:g}v36" if upright else f"M{x - 18:g} {y:g}h36", "wire thin")

    def capacitor(self, x: float, y: float) -> None:
        """Plates 8 apart; ends at y - 4 and y + 4."""
        self.path(f"M{x - 12:g} {y - 4:g}h24M{x - 12:g} {y + 4:g}h24")

    def closed_contact(self, x: float, y: float) -> None:
        """A contact that is closed at rest; ends at y - 18 and y + 18. Its blade stands at (x + 5, y)."""
        self.path(f"M{x:g} {y - 18:g}v4h13M{x:g} {y + 18:g}l11 -36", "wire thin")

    def open_contact(self, x: float, y: float) -> None:
        """A contact that is open at rest; ends as above, blade at (x - 7, y)."""
        self.path(f"M{x:g} {y - 18:g}v4M{x:g} {y + 18:g}l-14 -34", "wire thin")

    def mushroom(self, x: float, y: float) -> None:
        """Head of an emergency stop, to the left of a contact at x."""
        self.wire("link", (x - 24, y), (x + 5, y))
        self.path(f"M{x - 24:g} {y - 13:g}v26a16 16 0 0 1 0 -26z")

    def bimetal(self, x: float, y: float) -> None:
        """What moves a thermal contact, to the left of a contact at x."""
        self.wire("link", (x - 16, y), (x + 5, y))
        self.path(f"M{x - 22:g} {y - 14:g}v8h-8v12h8v8")

    def led(self, x: float, y: float) -> None:
        """Current flows downwards; ends at y - 14 and y + 14."""
        self.path(f"M{x - 13:g} {y - 12:g}h26l-13 24zM{x - 13:g} {y + 12:g}h26")
        for shift in (0, 9):
            self.path(f"M{x + 15:g} {y - 6 + shift:g}l11 -8m-6 0h6v6", "wire thin")

    def diode(self, x: float, y: float) -> None:
        """Current flows upwards; ends at y - 12 and y + 12."""
        self.path(f"M{x - 10:g} {y + 10:g}h20l-10 -20zM{x - 10:g} {y - 10:g}h20")

    def phototransistor(self, x: float, y: float) -> None:
        """Lit from the left; ends at (x, y - 26) and (x, y + 26)."""
        self.path(f"M{x - 18:g} {y - 16:g}v32M{x - 18:g} {y - 8:g}L{x:g} {y - 18:g}v-8", "wire thin")
        self.path(f"M{x - 18:g} {y + 8:g}L{x:g} {y + 18:g}v8", "wire thin")
        self.path(f"M{x - 1:g} {y + 18:g}l-10 -1l5 -7z", "solid")

    def fet(self, x: float, y: float) -> None:
        """Gate at (x, y); drain at (x + 30, y - 26), source at (x + 30, y + 26)."""
        self.path(f"M{x:g} {y:g}h12M{x + 12:g} {y - 17:g}v34", "wire thin")
        self.path(f"M{x + 18:g} {y - 21:g}v42M{x + 18:g} {y - 15:g}h12v-11M{x + 18:g} {y + 15:g}h12v11", "wire thin")
        self.path(f"M{x + 21:g} {y + 15:g}l7 -5v10z", "solid")
