"""Dose, spectra and hazards of the light. Pure."""
