"""Reaches the person wherever they are: from the journal to messages, from messages to their channels.

messages   which journal lines are worth a message, how urgent, and in which words (pure)
channels   the file of channels: where messages go, what may wait at night
links      the links in messages that open a checkpoint once
sender     one try over one channel, through Apprise
notifier   the thread that reads the journal, keeps the outbox and sends
"""

from pathlib import Path

from ..service import Service
from ..store.outbox import Outbox
from ..store.store import Store
from .channels import FILE, ChannelFile
from .links import Links
from .notifier import Notifier


def messenger(store: Store, data: Path, service: Service) -> Notifier:
    """What sends messages about the chambers of a service whose data folder this is. Start it, and close it."""
    file = ChannelFile(data / FILE)
    return Notifier(Outbox(store), file, service.chambers, link=Links(data).path)
