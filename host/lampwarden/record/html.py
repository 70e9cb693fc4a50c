"""A document as one HTML page that stands alone: no script, no address outside it, pictures inside."""

from base64 import b64encode
from collections.abc import Callable
from html import escape

from ..domain.reading import Lab
from .telling import Block, Document, Para, Picture, Table

STYLE = """
body { font: 400 16px/1.5 Georgia, "DejaVu Serif", serif; color: #221d16; background: #fdfaf3;
  max-width: 62rem; margin: 2rem auto; padding: 0 1.25rem; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: 0 0 .4rem; }
h2 { font-size: 1.2rem; border-top: 3px solid; padding-top: .4rem; margin: 2rem 0 .5rem; }
p { margin: .35rem 0; }
table { border-collapse: collapse; width: 100%; font-size: .875rem; margin: .6rem 0; }
th, td { text-align: left; vertical-align: top; padding: .3rem .7rem .3rem 0; border-bottom: 1px solid #d9cfbb; }
.wide { overflow-x: auto; }
figure { margin: .8rem 0; }
img { max-width: 100%; border: 1px solid #b9ad97; }
figcaption { font-size: .875rem; }
.pair { display: inline-flex; border: 1px solid #b9ad97; }
.pair i { width: 2.2rem; height: 1.3rem; }
@media print {
  body { background: none; margin: 0; max-width: none; font-size: 11px; }
  h2 { break-after: avoid; }
  figure, tr { break-inside: avoid; }
}
"""

Fetch = Callable[[str], bytes | None]
"""Gives the bytes of a picture by its hash; None: it is not there."""


def to_html(document: Document, fetch: Fetch) -> str:
    """The page. A picture that is not there is named in words."""
    parts = [
        "<!doctype html>",
        f'<html lang="en"><head><meta charset="utf-8"><title>{escape(document.title)}</title>',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<style>{STYLE}</style></head><body>",
        f"<h1>{escape(document.title)}</h1><p>{escape(document.about)}</p>",
    ]
    for section in document.sections:
        parts.append(f"<section><h2>{escape(section.title)}</h2>")
        parts += [_block(block, fetch) for block in section.blocks]
        parts.append("</section>")
    parts.append("</body></html>")
    return "\n".join(parts) + "\n"


def _block(block: Block, fetch: Fetch) -> str:
    match block:
        case Para():
            text = escape(block.text)
            return f"<p><b>{text}</b></p>" if block.strong else f"<p>{text}</p>"
        case Table():
            return _table(block)
        case Picture():
            data = fetch(block.hash)
            if data is None:
                return f"<p>{escape(block.caption)} The picture is not here: {block.hash}.</p>"
            source = f"data:image/jpeg;base64,{b64encode(data).decode()}"
            caption = escape(block.caption)
            return f'<figure><img alt="{caption}" src="{source}"><figcaption>{caption}</figcaption></figure>'


def _table(table: Table) -> str:
    swatches = bool(table.colours)
    head = ""
    if any(table.head):
        cells = "".join(f'<th scope="col">{escape(title)}</th>' for title in table.head)
        head = f"<thead><tr>{cells}{'<th>Before, now</th>' if swatches else ''}</tr></thead>"
    rows = []
    for index, row in enumerate(table.rows):
        first, *rest = row
        cells = f'<th scope="row">{escape(first)}</th>' + "".join(f"<td>{escape(text)}</td>" for text in rest)
        if swatches:
            cells += f"<td>{_pair(*table.colours[index])}</td>"
        rows.append(f"<tr>{cells}</tr>")
    return f'<div class="wide"><table>{head}<tbody>{"".join(rows)}</tbody></table></div>'


def _pair(before: Lab | None, now: Lab | None) -> str:
    pieces = [
        f'<i style="background:lab({lab[0]:.2f}% {lab[1]:.2f} {lab[2]:.2f})"></i>' for lab in (before, now) if lab
    ]
    return f'<span class="pair" aria-hidden="true">{"".join(pieces)}</span>' if pieces else ""
