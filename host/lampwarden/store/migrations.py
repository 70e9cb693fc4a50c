"""The ladder: every change the tables ever saw, in order.

To change the tables, add a function at the end. Never edit one that was released: databases that climbed it
will not climb it again. A step takes a plain connection state and must use `db.execute`, one statement a call
(`executescript` would commit half a step). sqlite-utils runs each step and its record in one transaction.
A file that holds a step not listed here was written by a newer version and is refused (opening.py).

Every table is STRICT and every row carries its chamber. Text ids are kept as they are; only samples, of which
there are 86,400 a day, name their session by number.
"""

from sqlite_utils import Database, Migrations

from lampwarden.store.chain import GENESIS, content_of, link
from lampwarden.store.records import BANKS_MAX

APPLICATION_ID = 0x4C616D70
"""Stands in the file's header ("Lamp") and tells our databases from those of other programs."""

BANK_COLUMNS = tuple(f"bank{number}_centi_c" for number in range(1, BANKS_MAX + 1))

LADDER = Migrations("lampwarden")


@LADDER()
def m001_sessions_journal_samples(db: Database) -> None:
    """Sessions, the append-only journal, the latest progress and the readings."""
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute("""
        CREATE TABLE sessions (
            number INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            chamber_id TEXT NOT NULL,
            title TEXT NOT NULL,
            program TEXT NOT NULL,
            chamber TEXT NOT NULL,
            began_utc TEXT NOT NULL,
            outcome TEXT,
            cause TEXT,
            ended_utc TEXT,
            CHECK ((outcome IS NULL) = (ended_utc IS NULL) AND (cause IS NULL) = (ended_utc IS NULL))
        ) STRICT""")
    db.execute("CREATE INDEX sessions_of_chamber ON sessions (chamber_id)")
    # A chamber holds one set of sheets: two open sessions would make recovery a guess.
    db.execute("CREATE UNIQUE INDEX sessions_one_open ON sessions (chamber_id) WHERE ended_utc IS NULL")

    # Ready for a hash chain: rows never change, numbers have no gaps, data is canonical JSON text.
    db.execute("""
        CREATE TABLE journal (
            seq INTEGER PRIMARY KEY CHECK (seq > 0),
            chamber_id TEXT NOT NULL,
            session_id TEXT REFERENCES sessions (id),
            kind TEXT NOT NULL,
            run_s REAL NOT NULL,
            utc TEXT NOT NULL,
            text TEXT NOT NULL,
            data TEXT NOT NULL
        ) STRICT""")
    db.execute("CREATE INDEX journal_of_session ON journal (session_id)")
    db.execute("CREATE INDEX journal_of_chamber ON journal (chamber_id)")
    for verb in ("UPDATE", "DELETE"):
        db.execute(f"""
            CREATE TRIGGER journal_refuses_{verb.lower()} BEFORE {verb} ON journal
            BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END""")
    # INSERT OR REPLACE deletes without asking the trigger above (unless recursive_triggers is on).
    db.execute("""
        CREATE TRIGGER journal_refuses_replace BEFORE INSERT ON journal
        WHEN EXISTS (SELECT 1 FROM journal WHERE seq = NEW.seq)
        BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END""")

    db.execute("""
        CREATE TABLE progress (
            session INTEGER PRIMARY KEY REFERENCES sessions (number),
            chamber_id TEXT NOT NULL,
            data TEXT NOT NULL
        ) STRICT""")

    # WITHOUT ROWID keeps a session's readings together and needs no second index: 51 bytes a row for 8 banks
    # against 64 with one (measured).
    db.execute(f"""
        CREATE TABLE samples (
            session INTEGER NOT NULL REFERENCES sessions (number),
            run_ms INTEGER NOT NULL,
            chamber_id TEXT NOT NULL,
            air_centi_c INTEGER,
            humidity_centi_pct INTEGER,
            {", ".join(f"{column} INTEGER" for column in BANK_COLUMNS)},
            door_open INTEGER NOT NULL,
            bank_count INTEGER NOT NULL,
            PRIMARY KEY (session, run_ms)
        ) STRICT, WITHOUT ROWID""")


@LADDER()
def m002_journal_chain(db: Database) -> None:
    """Each line of the journal carries the hash of the line before it and its own; see chain.py."""
    db.execute("ALTER TABLE journal RENAME TO journal_unchained")
    db.execute("""
        CREATE TABLE journal (
            seq INTEGER PRIMARY KEY CHECK (seq > 0),
            chamber_id TEXT NOT NULL,
            session_id TEXT REFERENCES sessions (id),
            kind TEXT NOT NULL,
            run_s REAL NOT NULL,
            utc TEXT NOT NULL,
            text TEXT NOT NULL,
            data TEXT NOT NULL,
            previous_hash BLOB NOT NULL CHECK (length(previous_hash) = 32),
            hash BLOB NOT NULL CHECK (length(hash) = 32)
        ) STRICT""")
    columns = "chamber_id, session_id, kind, run_s, utc, text, data"
    previous = GENESIS
    for seq, *said in db.execute(f"SELECT seq, {columns} FROM journal_unchained ORDER BY seq"):
        content = content_of(*said)
        following = link(previous, content)
        db.execute(
            f"INSERT INTO journal (seq, {columns}, previous_hash, hash) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (seq, *content, previous, following),
        )
        previous = following
    # Its indexes and triggers go with it, and free their names.
    db.execute("DROP TABLE journal_unchained")
    db.execute("CREATE INDEX journal_of_session ON journal (session_id)")
    db.execute("CREATE INDEX journal_of_chamber ON journal (chamber_id)")
    for verb in ("UPDATE", "DELETE"):
        db.execute(f"""
            CREATE TRIGGER journal_refuses_{verb.lower()} BEFORE {verb} ON journal
            BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END""")
    db.execute("""
        CREATE TRIGGER journal_refuses_replace BEFORE INSERT ON journal
        WHEN EXISTS (SELECT 1 FROM journal WHERE seq = NEW.seq)
        BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END""")


@LADDER()
def m003_planning(db: Database) -> None:
    """Sheets and plans with every revision, calibrations, planned starts; a session keeps its plan and sheet."""
    # A sheet belongs to no chamber: its row names none.
    db.execute("""
        CREATE TABLE drafts (
            number INTEGER PRIMARY KEY,
            kind TEXT NOT NULL CHECK (kind IN ('sheet', 'plan')),
            id TEXT NOT NULL,
            revision INTEGER NOT NULL CHECK (revision > 0),
            chamber_id TEXT CHECK ((chamber_id IS NULL) = (kind = 'sheet')),
            saved_utc TEXT NOT NULL,
            saved_by TEXT NOT NULL,
            removed INTEGER NOT NULL CHECK (removed IN (0, 1)),
            data TEXT NOT NULL,
            UNIQUE (kind, id, revision)
        ) STRICT""")
    db.execute("""
        CREATE TABLE calibrations (
            number INTEGER PRIMARY KEY,
            chamber_id TEXT NOT NULL,
            zone TEXT NOT NULL,
            irradiance_w_m2 REAL NOT NULL CHECK (irradiance_w_m2 > 0),
            calibration TEXT NOT NULL,
            saved_utc TEXT NOT NULL,
            saved_by TEXT NOT NULL
        ) STRICT""")
    db.execute("CREATE INDEX calibrations_of_zone ON calibrations (chamber_id, zone)")
    for table in ("drafts", "calibrations"):
        for verb in ("UPDATE", "DELETE"):
            db.execute(f"""
                CREATE TRIGGER {table}_refuse_{verb.lower()} BEFORE {verb} ON {table}
                BEGIN SELECT RAISE(ABORT, 'what was saved is kept'); END""")
    db.execute("""
        CREATE TABLE planned_starts (
            number INTEGER PRIMARY KEY,
            chamber_id TEXT NOT NULL,
            plan_id TEXT NOT NULL,
            plan_revision INTEGER NOT NULL,
            at_utc TEXT NOT NULL,
            saved_utc TEXT NOT NULL,
            saved_by TEXT NOT NULL,
            confirmed TEXT NOT NULL,
            state TEXT NOT NULL CHECK (state IN ('waiting', 'started', 'refused', 'missed', 'cancelled')),
            says TEXT NOT NULL,
            session_id TEXT REFERENCES sessions (id)
        ) STRICT""")
    db.execute("CREATE INDEX planned_starts_of_chamber ON planned_starts (chamber_id)")
    for column in ("plan_id", "plan", "sheet"):
        db.execute(f"ALTER TABLE sessions ADD COLUMN {column} TEXT")


@LADDER()
def m004_outbox(db: Database) -> None:
    """Messages to people, how far each has got on each channel, and the place up to which the journal was read."""
    db.execute("""
        CREATE TABLE messages (
            number INTEGER PRIMARY KEY,
            key TEXT NOT NULL UNIQUE,
            kind TEXT NOT NULL,
            chamber_id TEXT NOT NULL,
            session_id TEXT REFERENCES sessions (id),
            urgency INTEGER NOT NULL CHECK (urgency BETWEEN 0 AND 2),
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            checkpoint TEXT NOT NULL,
            made_utc TEXT NOT NULL,
            until_utc TEXT NOT NULL
        ) STRICT""")
    db.execute("CREATE INDEX messages_of_chamber ON messages (chamber_id)")
    db.execute("""
        CREATE TABLE deliveries (
            message INTEGER NOT NULL REFERENCES messages (number),
            channel TEXT NOT NULL,
            chamber_id TEXT NOT NULL,
            state TEXT NOT NULL CHECK (state IN ('waiting', 'trying', 'delivered', 'needless')),
            tries INTEGER NOT NULL,
            next_utc TEXT NOT NULL,
            changed_utc TEXT NOT NULL,
            said TEXT NOT NULL,
            PRIMARY KEY (message, channel)
        ) STRICT, WITHOUT ROWID""")
    db.execute("CREATE INDEX deliveries_open ON deliveries (state) WHERE state IN ('waiting', 'trying')")
    # The journal of all chambers is read in one go: its row names none.
    db.execute("CREATE TABLE outbox_place (one INTEGER PRIMARY KEY CHECK (one = 1), seq INTEGER NOT NULL) STRICT")


@LADDER()
def m005_pictures(db: Database) -> None:
    """Photos that came in, readings made of them or typed, and what people found by hand and eye."""
    db.execute("""
        CREATE TABLE photos (
            hash TEXT PRIMARY KEY CHECK (length(hash) = 64),
            chamber_id TEXT NOT NULL,
            name TEXT NOT NULL,
            came_utc TEXT NOT NULL,
            came_by TEXT NOT NULL,
            found TEXT NOT NULL
        ) STRICT""")
    db.execute("""
        CREATE TABLE readings (
            number INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            chamber_id TEXT NOT NULL,
            session_id TEXT REFERENCES sessions (id),
            sheet_id TEXT NOT NULL,
            checkpoint TEXT NOT NULL,
            saved_utc TEXT NOT NULL,
            saved_by TEXT NOT NULL,
            lit_s TEXT,
            superseded INTEGER NOT NULL CHECK (superseded IN (0, 1)),
            data TEXT NOT NULL
        ) STRICT""")
    db.execute("CREATE INDEX readings_of_session ON readings (session_id)")
    db.execute("CREATE INDEX readings_of_sheet ON readings (sheet_id)")
    db.execute("""
        CREATE TABLE reading_photos (
            reading INTEGER NOT NULL REFERENCES readings (number),
            chamber_id TEXT NOT NULL,
            place INTEGER NOT NULL,
            hash TEXT NOT NULL REFERENCES photos (hash),
            drawn TEXT NOT NULL,
            flat TEXT NOT NULL,
            PRIMARY KEY (reading, place)
        ) STRICT""")
    db.execute("""
        CREATE TABLE hand_findings (
            number INTEGER PRIMARY KEY,
            chamber_id TEXT NOT NULL,
            session_id TEXT REFERENCES sessions (id),
            sheet_id TEXT NOT NULL,
            saved_utc TEXT NOT NULL,
            saved_by TEXT NOT NULL,
            data TEXT NOT NULL
        ) STRICT""")
    db.execute("CREATE INDEX hand_findings_of_sheet ON hand_findings (sheet_id)")
    # A reading is marked when another takes its place, and never otherwise changed; nothing is deleted.
    db.execute("""
        CREATE TRIGGER readings_refuse_change BEFORE UPDATE ON readings
        WHEN NEW.data IS NOT OLD.data OR NEW.id IS NOT OLD.id OR NEW.session_id IS NOT OLD.session_id
        BEGIN SELECT RAISE(ABORT, 'a reading is kept as it was made'); END""")


@LADDER()
def m006_keeping(db: Database) -> None:
    """Hand findings withdrawn, what was deleted on purpose, thinned sessions, and choices for the whole host."""
    # The finding itself stays as it was written; this row stands beside it.
    db.execute("""
        CREATE TABLE withdrawn_findings (
            finding INTEGER PRIMARY KEY REFERENCES hand_findings (number),
            chamber_id TEXT NOT NULL,
            why TEXT NOT NULL,
            saved_utc TEXT NOT NULL,
            saved_by TEXT NOT NULL
        ) STRICT""")
    # `files`: names of files still to be taken off the disk, so that a deletion cut short is finished later.
    db.execute("""
        CREATE TABLE removals (
            number INTEGER PRIMARY KEY,
            chamber_id TEXT NOT NULL,
            what TEXT NOT NULL CHECK (what IN ('photos', 'sheet')),
            id TEXT NOT NULL,
            saved_utc TEXT NOT NULL,
            saved_by TEXT NOT NULL,
            files TEXT NOT NULL
        ) STRICT""")
    # They hold for all chambers of the host: its row names none.
    db.execute("CREATE TABLE choices (name TEXT PRIMARY KEY, data TEXT NOT NULL) STRICT")
    for column in ("removed_utc", "thinned_utc"):
        db.execute(f"ALTER TABLE sessions ADD COLUMN {column} TEXT")
    # Revisions of a sheet go only with a removal that names it.
    db.execute("DROP TRIGGER drafts_refuse_delete")
    db.execute("""
        CREATE TRIGGER drafts_refuse_delete BEFORE DELETE ON drafts
        WHEN OLD.kind <> 'sheet' OR NOT EXISTS (SELECT 1 FROM removals WHERE what = 'sheet' AND id = OLD.id)
        BEGIN SELECT RAISE(ABORT, 'what was saved is kept'); END""")


@LADDER()
def m007_published(db: Database) -> None:
    """The place up to which the journal was published to a broker."""
    db.execute("CREATE TABLE published_place (one INTEGER PRIMARY KEY CHECK (one = 1), seq INTEGER NOT NULL) STRICT")
