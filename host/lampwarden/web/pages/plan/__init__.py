"""The page Plan: the list of a chamber's plans, and the editor of one.

draft     a plan's steps, undo and redo; drafts of pages that went away
bench     the plan on the bench: what all parts of the editor share
entry     a field whose text becomes a number
listing   the list and what is new from it
editor    the editor, put together of its parts
air         the fitted model of a chamber's air
about, picture, bars, when, flags, arms, rules, result, rehearse, start   one part of the editor each
"""
