"""The board on the bench: put the firmware on it, and prove, before the first light, that everything goes dark.

firmware     the files that belong on a board, and what a builder has changed in them
console      the MicroPython prompt of a board, by mpremote
install      copies the files, proves them, starts the board
dialogue     what commissioning asks of person and board, as data (pure)
steps        the steps of commissioning (pure)
check        runs the steps and gathers the record (pure)
driver       carries out what the steps ask: the board's heartbeat goes on while a person thinks
papers       install and commissioning records in the data folder
terminal     the person at the terminal
commands     `lampwarden board ...`
"""
