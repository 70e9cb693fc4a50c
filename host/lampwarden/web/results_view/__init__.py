"""What the pages Results say, as texts and numbers. Pure.

when             moments with their date
listing          one line a session
moments          the readings that can be compared, and every photo with what came of it
said             headline, advice by cell, the conclusions in groups, the limits
cells            the table of cells, sorted
arms             treatments beside the control, drift and inks, arms across sessions
later            what is to be looked at again after the end, and what came back
entry            what is typed: hand findings and an instrument's readings
numbers          all colours as CSV
"""
