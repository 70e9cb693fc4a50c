"""The window on the chambers: an API for scripts and pages for people, both over the one service.

figures, wording, charts, views  pure: a snapshot turned into numbers, words and what a page shows
guard                            who may ask at all
api/                             typed routes
watch                            one look at the store for all open pages
pages/                           places what the views say
app                              puts it together
"""
