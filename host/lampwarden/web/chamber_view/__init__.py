"""What the page Chamber says, as texts and numbers. Pure.

zones       the zones, how their light is known, leaks between them, lit hours
board       the board's health, its commissioning record
registers   the register table with what the board last said
heat        how the air warms with the lamps' power
"""
