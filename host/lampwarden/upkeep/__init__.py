"""What keeps a daemon running for months without anyone looking.

folder.py    the data folder, held by one daemon at a time
nightly.py   a backup every night
pulse.py     tells systemd that every keeper turns
unit.py      the systemd unit
commands.py  backup, restore, journal, service
"""
