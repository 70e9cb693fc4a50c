"""The pages Results: the sessions of a chamber, and what one session did to its sheet.

listing      the list
elsewhere    records from other hosts
series       the page Series: one treatment over several sheets
page         one session, put together of the parts below
opened       what is read from the records for it
conclusions  headline, advice, conclusions, limits
pictures     before and after under a slider, and all photos
cells        the table of cells
curves       change over dose or time
treatments   arms beside the control, drift and inks, other sessions of the sheet
later        looks after the end
hand         what was found by hand and eye
instrument   an instrument's readings
record       the treatment record in all its forms
journal      the session's lines
tables       a table of texts
"""

from .listing import ResultsPage
from .page import ResultPage
from .series import SeriesPage

__all__ = ["ResultPage", "ResultsPage", "SeriesPage"]
