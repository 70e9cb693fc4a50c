"""Photos of treated sheets, from the moment they come in until they are readings.

vault    the originals, untouched under their hash, with a sidecar of what was found in each
pool     reading photos in a process of its own, so that neither keeper nor page waits and the daemon stays small
camera   the chamber's camera, a command of the person's choice
doses    what each cell had got by the time of a reading (pure)
"""
