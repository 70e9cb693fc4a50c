"""Benchmarks: ratios to a baseline of the same run, since machines are noisy."""
