"""Measurements as ratios within one run, so that a slower machine does not change their meaning.

keeper   `python -m tests.bench.keeper`: is the keeper held up by pages, photos and a slow disk?
planning `python -m tests.bench.planning`: is a plan reviewed as fast as one types?
"""
