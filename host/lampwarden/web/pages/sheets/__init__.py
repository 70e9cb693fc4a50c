"""The page Sheets: describe a sheet, lay out its cells, give them treatments, print its mask.

edits       what a person does to a sheet (pure)
draft       the sheet on the desk, with undo and redo (pure)
desk        the draft, what is chosen on it, and whom to tell of a change
entry       one field bound to one value of the draft
list        the sheets there are
editor      one sheet, put together of the parts below
describe    what the sheet is
layout      its cells on the drawing, and their numbers
treat       treatments by hand and by lot
prove       missing controls, cautions, the mask
"""

from .editor import SheetPage
from .list import SheetsPage

__all__ = ["SheetPage", "SheetsPage"]
