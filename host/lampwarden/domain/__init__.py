"""Nouns of the job as plain data: chamber, program, units. No I/O."""
