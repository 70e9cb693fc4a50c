"""Colour by the CIE's formulas: coordinates, differences, whiteness and yellowness, brightness, Kubelka-Munk.

Pure and in NumPy. Colours lie along the last axis: (..., 3). XYZ and reflectance are on the scale where a perfect white
has Y = 100 and R = 100 %. Everything is for the 2 degree observer of 1931 unless said otherwise.
"""
