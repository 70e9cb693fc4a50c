"""All errors a person can meet, as one tree.

LampwardenError
    ProgramError        the program file or plan is wrong; message names line, key and remedy where known
    NotNow              the order is legal, but not in this state; nothing changed
        ChangedMeanwhile    somebody saved a later revision of what was to be changed
    NotAllowed          whoever asks may only watch
    UnknownName         no chamber, session or checkpoint of that name
    PhotoRefused        a photo from which nothing can be read; another one is needed
    LinkError           between host and board
        BoardSilent         no answer in time, or the port is gone; worth a retry
        BoardConfused       an answer that cannot belong to the question; worth a retry after a pause
        BoardRefused        the board answered with a Modbus exception; retrying the same will not help
        WrongBoard          something else answers there, or a board with another register map
    StoreError          the database
        StoreNewer          written by a newer version; left untouched
        StoreDamaged        not a database, or a damaged one; left untouched
        StoreFull           the disk takes no more; what was saved is safe
        StoreInUse          another process holds the data folder

Every message says what happened, where, and what to do.
"""


class LampwardenError(Exception):
    """Base of all errors whose message is meant for a person."""


class ProgramError(LampwardenError):
    """The program cannot be run as written."""


class NotNow(LampwardenError):
    """The order means nothing in the present state; nothing was changed."""


class ChangedMeanwhile(NotNow):
    """Somebody saved a later revision meanwhile; nothing was saved."""


class NotAllowed(LampwardenError):
    """Whoever asks may watch, but not give orders; nothing was changed."""


class UnknownName(LampwardenError):
    """There is no such chamber, session, zone or checkpoint."""


class PhotoRefused(LampwardenError):
    """Nothing can be read from this photo. The message says what to do for the next one."""


class LinkError(LampwardenError):
    """Something went wrong between host and board."""


class BoardSilent(LinkError):
    """No answer in time, or the port is gone. Worth a retry."""


class BoardConfused(LinkError):
    """An answer that cannot belong to the question. Worth a retry after a pause."""


class BoardRefused(LinkError):
    """The board refused with a Modbus exception. Repeating the same order will not help."""

    def __init__(self, message: str, code: int) -> None:
        super().__init__(message)
        self.code = code


class WrongBoard(LinkError):
    """The device is no Lampwarden board, or speaks another register map."""


class StoreError(LampwardenError):
    """The database cannot be used."""


class StoreNewer(StoreError):
    """The database was written by a newer version; it was left untouched."""


class StoreDamaged(StoreError):
    """The file is not a database or is damaged; it was left untouched."""


class StoreFull(StoreError):
    """The disk takes no more data. What was saved is safe."""


class StoreInUse(StoreError):
    """Another Lampwarden holds the data folder; it was left untouched."""
