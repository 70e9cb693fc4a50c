"""The thread that reads the journal, keeps the outbox, and sends.

What is to be sent is on disk before it is tried, and what came of a try after it. A daemon that dies in between finds
a message that is being tried: it is sent again and says that it may have come already. A network that is away for a
day costs nothing but time: tries go on, ever further apart, until the message is needless or too old.
"""

import logging
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from ..errors import LampwardenError, ProgramError, UnknownName
from ..keeper import Snapshot
from ..keeper.clock import utc_text
from ..store.outbox import Delivery, NewMessage, Outbox
from .channels import Channel, ChannelFile, Channels
from .messages import SETTLING, Message, Urgency, made_of, of_line, of_session, settles
from .sender import send, trouble_of

log = logging.getLogger(__name__)

LOOK_S = 1.0
PAUSES_S = (15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0)
"""Time from a failed try to the next; the last goes on for ever. Chosen: a router restarts within two minutes."""
OLD = timedelta(days=7)
"""Messages older than this are news no more."""
AGAIN = "(It may have come already.) "

Send = Callable[[str, str, str, Urgency], str]


@dataclass(frozen=True, slots=True)
class Standing:
    """One channel and how it does."""

    channel: Channel
    last: Delivery | None
    """The newest message that was tried over it."""


class Notifier:
    """Minds the outbox of all chambers of one host."""

    def __init__(
        self,
        outbox: Outbox,
        channels: ChannelFile,
        snapshots: Callable[[], Sequence[Snapshot]],
        *,
        utc: Callable[[], datetime] = lambda: datetime.now(UTC),
        send: Send = send,
        link: Callable[[Delivery], str] = lambda delivery: "",
    ) -> None:
        """`link` gives the path of the page that answers a message, such as /now/attic; empty: none."""
        self._outbox, self._file, self._snapshots, self._utc = outbox, channels, snapshots, utc
        self._send, self._link = send, link
        self._quit, self._wake = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="notifier", daemon=True)
        self._pool = ThreadPoolExecutor(4, "send")
        self._under_way: dict[str, Future[None]] = {}
        """One try at a time on each channel, so that messages come in order."""
        self._announced: set[str] = set()
        self._own: set[tuple[int, str]] = set()
        """What this process has begun to try; anything else that is being tried was begun by one that died."""

    def start(self) -> None:
        """Starts the thread. What happened before the very first start is no news."""
        self._thread.start()

    def close(self) -> None:
        """Ends the thread; a try under way is waited for."""
        self._quit.set()
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join(10)
        self._pool.shutdown(wait=True, cancel_futures=True)

    @property
    def trouble(self) -> str:
        """Why the file of channels cannot be used; empty: it can."""
        self._file.read()
        return self._file.trouble

    def channels(self) -> Channels:
        """The channels as they are set up."""
        return self._file.read()

    def change(self, channels: Channels) -> None:
        """Sets the channels up anew. Raises ProgramError for an address nothing can be sent to, or StoreError."""
        known = {channel.url for channel in self._file.read().channels}
        for channel in channels.channels:
            if channel.url not in known and (said := trouble_of(channel.url)):
                raise ProgramError(f"Channel '{channel.name}': {said}")
        self._file.write(channels)
        self._wake.set()

    def standing(self) -> list[Standing]:
        """Each channel with its newest try."""
        return [Standing(c, self._outbox.last_of_channel(c.name)) for c in self._file.read().channels]

    def came_through(self) -> tuple[bool, str]:
        """Whether the last message over every channel arrived, and that as a sentence."""
        standing = self.standing()
        if not standing:
            return False, "No way to send you messages is set up."
        for each in standing:
            if each.last is None:
                return False, f"Channel '{each.channel.name}' was never tried."
            if each.last.state != "delivered":
                why = f" {each.last.said}" if each.last.said else ""
                return False, f"The last message over '{each.channel.name}' has not come through.{why}"
        names = ", ".join(f"'{each.channel.name}'" for each in standing)
        return True, f"The last message came through over {names}."

    def waiting(self) -> dict[str, int]:
        """How many messages are not out yet, by chamber."""
        return dict(Counter(delivery.chamber_id for delivery in self._outbox.open()))

    def newest(self, chamber_id: str, limit: int = 50) -> list[Delivery]:
        """The newest messages of a chamber."""
        return self._outbox.newest(chamber_id, limit)

    def test(self, name: str, chamber_id: str, by: str) -> None:
        """Sends a test message over one channel soon. Raises UnknownName."""
        if name not in [channel.name for channel in self._file.read().channels]:
            raise UnknownName(f"There is no channel '{name}'. Save it first.")
        now = self._utc()
        message = Message(
            key=f"test/{name}/{utc_text(now)}",
            kind="test",
            chamber_id=chamber_id,
            session_id=None,
            urgency=Urgency.NOW,
            title="A test from Lampwarden",
            body=f"{by} asked for this test. Messages about the chamber will come like this one.",
        )
        self._outbox.add([self._new(message, (name,), now)], utc_text(now))
        self._wake.set()

    def look(self) -> None:
        """One round: reads what is new, lays it in the outbox, and starts what is due."""
        now, channels = self._utc(), self._file.read()
        snapshots = self._snapshots()
        titles = {snapshot.chamber.id: snapshot.chamber.title for snapshot in snapshots}
        self._read(titles, channels, now)
        self._foresee(snapshots, channels, now)
        self._settle(channels, now)
        self._begin_due(channels, now)

    def _run(self) -> None:
        while not self._quit.is_set():
            try:
                self.look()
            except LampwardenError as error:
                log.warning("messages wait: %s", error)
            except Exception:  # a mistake here must not end the messages without a word
                log.exception("a round of messages failed; the next one tries again")
            self._wake.wait(LOOK_S)
            self._wake.clear()

    def _read(self, titles: dict[str, str], channels: Channels, now: datetime) -> None:
        place = self._outbox.place()
        if place is None:
            self._outbox.add([], utc_text(now), self._outbox.head())
            return
        lines = self._outbox.lines(place)
        if lines:
            worth = [of_line(line, titles.get(line.chamber_id, line.chamber_id)) for line in lines]
            new = [self._to(message, channels, now) for message in worth if message is not None]
            self._outbox.add(new, utc_text(now), lines[-1].seq)

    def _foresee(self, snapshots: Sequence[Snapshot], channels: Channels, now: datetime) -> None:
        for snapshot in snapshots:
            if snapshot.session is None or snapshot.session_id is None:
                continue
            message = of_session(snapshot.session, snapshot.session_id, snapshot.chamber.title)
            if message is not None and message.key not in self._announced:
                self._outbox.add([self._to(message, channels, now)], utc_text(now))
                self._announced.add(message.key)

    def _settle(self, channels: Channels, now: datetime) -> None:
        names = {channel.name for channel in channels.channels}
        moves = []
        for delivery in self._outbox.open():
            if (delivery.number, delivery.channel) in self._own:
                continue
            why = self._answered(_message(delivery))
            if not why and delivery.until_utc <= utc_text(now):
                why = "it is too old"
            if not why and delivery.channel not in names:
                why = "its channel is gone"
            if why:
                moves.append((delivery, "needless", delivery.tries, delivery.next_utc, why))
        if moves:
            self._outbox.settle(moves, utc_text(now))

    def _answered(self, message: Message) -> str:
        if not message.checkpoint or message.session_id is None:
            return ""
        later = self._outbox.lines_of(message.session_id, made_of(message), SETTLING)
        return next((why for line in later if (why := settles(line, message))), "")

    def _begin_due(self, channels: Channels, now: datetime) -> None:
        quiet = channels.quiet(now.astimezone())
        ways = {channel.name: channel for channel in channels.channels}
        for delivery in self._outbox.open():
            busy = self._under_way.get(delivery.channel)
            if delivery.channel not in ways or (busy is not None and not busy.done()):
                continue
            if quiet and delivery.urgency == Urgency.CAN_WAIT:
                continue
            wait = datetime.fromisoformat(delivery.next_utc) - now
            # A clock that was set back must not make a message wait for long.
            if timedelta(0) < wait <= timedelta(seconds=PAUSES_S[-1]):
                continue
            torn = delivery.state == "trying"
            self._outbox.settle([(delivery, "trying", delivery.tries + 1, utc_text(now), delivery.said)], utc_text(now))
            self._own.add((delivery.number, delivery.channel))
            address = "" if channels.no_links else channels.address.rstrip("/")
            url = ways[delivery.channel].url
            self._under_way[delivery.channel] = self._pool.submit(self._try, delivery, url, address, torn=torn)

    def _try(self, delivery: Delivery, url: str, address: str, *, torn: bool) -> None:
        body = (AGAIN if torn else "") + delivery.body
        path = self._link(delivery) if address else ""
        if path:
            lead = "Answer here; this link opens once:" if delivery.checkpoint else "Look here:"
            body = f"{body}\n\n{lead}\n{address}{path}"
        try:
            said = self._send(url, delivery.title, body, Urgency(delivery.urgency))
        except Exception as error:  # whatever a channel's plugin does, the message stays
            log.exception("channel %s failed", delivery.channel, extra={"chamber_id": delivery.chamber_id})
            said = f"The channel failed ({type(error).__name__})."
        now, tries = self._utc(), delivery.tries + 1
        pause = PAUSES_S[min(tries, len(PAUSES_S)) - 1]
        then = utc_text(now + timedelta(seconds=pause)) if said else utc_text(now)
        try:
            move = (delivery, "waiting" if said else "delivered", tries, then, said)
            self._outbox.settle([move], utc_text(now))
            self._own.discard((delivery.number, delivery.channel))
        except LampwardenError as error:
            about = {"chamber_id": delivery.chamber_id}
            log.error("it could not be recorded what came of message %d: %s", delivery.number, error, extra=about)
        self._wake.set()

    def _to(self, message: Message, channels: Channels, now: datetime) -> NewMessage:
        return self._new(message, tuple(c.name for c in channels.channels if c.takes(message.urgency)), now)

    def _new(self, message: Message, channels: tuple[str, ...], now: datetime) -> NewMessage:
        return NewMessage(
            message.key,
            message.kind,
            message.chamber_id,
            message.session_id,
            int(message.urgency),
            message.title,
            message.body,
            message.checkpoint,
            utc_text(now + OLD),
            channels,
        )


def _message(delivery: Delivery) -> Message:
    return Message(
        delivery.key,
        delivery.kind,
        delivery.chamber_id,
        delivery.session_id,
        Urgency(delivery.urgency),
        delivery.title,
        delivery.body,
        delivery.checkpoint,
    )
