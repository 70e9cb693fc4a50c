"""Measurements as ratios within one run, so that a slower machine does not change their meaning.

keeper   `python -m tests.bench.keeper`: is the keeper held up by pages, photos and a slow disk?
memory   `python -m tests.bench.memory`: how much memory does the daemon need with five pages open?
opening  `python -m tests.bench.opening`: how long does the server take to open each page of a full record?
planning `python -m tests.bench.planning`: is a plan reviewed as fast as one types?

And one of truth instead of time:

agreement `python -m tests.bench.agreement`: do conclusions from photos agree with what the paper truly did?
"""
