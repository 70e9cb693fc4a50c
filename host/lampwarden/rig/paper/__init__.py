"""The simulated paper: what light, peroxide and time really do to each cell, as spectra.

paper.toml  the invented numbers
design      reads them, draws one sheet from a seed
change      how chromophores and inks change: formulas only
spectra     CIE tables, and true CIELAB from a spectrum
sheet       the sheet under the simulated lamps, stepped by their true light

Checkers compare what the product concludes from photos with what is written here. It shares no code with the
measuring side on purpose.
"""
