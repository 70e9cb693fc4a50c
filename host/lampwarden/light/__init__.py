"""Dose, spectra, heat and hazards of the light: formulas and their words. Pure."""
