"""The pages. They only place what the views say; clicks become calls of the service.

elements    plain HTML elements that send only what changed
reader      the person at this browser: preferences, and how an order of theirs is carried out
shell       head, stop, connection banner, display settings
now         the page Now, put together of its parts
state, prompt, actions, zones, climate, course, journal, start   one part of it each
"""
