"""What the page Plan shows. Pure: texts and numbers, no markup.

entry      what a person types, turned into numbers, and back
timetable  the exposures as bars, the checkpoints as flags, nights and both clocks
picture    the zones as they lie in the chamber, with the sheet's cells
outcome    what the plan comes to: a review in words
rehearsed  what a rehearsal showed
arms       what is compared with what
checks     what must be right before a start
listing    the plans of a chamber
"""
