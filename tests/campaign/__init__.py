"""The fault campaign: seeds of trouble for the real keeper and the real firmware, in virtual time.

draw       one seed draws a chamber, a program and a schedule of trouble
faults     every kind of trouble, in one table, with the reaction expected
line       the wire between host and board, and what goes wrong on it
stage      runs a case: host lives that die and adopt, a person, two phases
witness    what really happened, from the simulated lamps and the bytes on the wire
checkers   one check for each promise of the design's section 5, with its bound
mutations  the guard's rules, switched off in turn: something must notice
"""
