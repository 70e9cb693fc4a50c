"""Reaches the person wherever they are: from the journal to messages, from messages to their channels.

messages   which journal lines are worth a message, how urgent, and in which words (pure)
channels   the file of channels: where messages go, what may wait at night
sender     one try over one channel, through Apprise
notifier   the thread that reads the journal, keeps the outbox and sends
"""
