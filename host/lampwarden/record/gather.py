"""From the service to a Record."""

from typing import Any

from pydantic import BaseModel, ConfigDict, model_validator

from .. import __version__
from ..domain.chamber import Chamber
from ..domain.finding import HandFinding
from ..domain.plan import Plan
from ..domain.program import Program
from ..domain.reading import Reading
from ..domain.sheet import Sheet
from ..errors import NotNow
from ..service import Service
from ..service.by_hand import KeptFinding
from ..store.records import Session

POINTS_MAX = 400
"""Stretches of readings in a record: a chart needs no more."""
LINES_AT_ONCE = 1000
FORMAT = 2
"""Rises when a record of this version cannot be read by an older one."""


class Part(BaseModel):
    """Base of a record's parts: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Line(Part):
    """A line of the journal."""

    seq: int
    utc: str
    run_s: float
    kind: str
    text: str
    data: dict[str, Any]


class Zone(Part):
    """What one zone gave."""

    name: str
    planned_lit_s: float
    lit_s: float
    """Level-weighted light by the board's counter, s."""


class Look(Part):
    """A reading with the dose of each cell by then."""

    reading: Reading
    saved_by: str
    doses_j_cm2: dict[str, float]
    pictures: tuple[tuple[str, str], ...]
    """Hash of each photo, and of the picture drawn of it."""


class Found(Part):
    """What somebody found by hand and eye. One that was withdrawn stays, and says so."""

    finding: HandFinding
    by: str = ""
    """Empty in records of format 1, which did not say."""
    withdrawn_utc: str = ""
    """Empty: it stands."""
    withdrawn_by: str = ""
    why: str = ""


class Air(Part):
    """A short stretch of the session."""

    run_s: float
    air_temp_c: float | None
    air_temp_c_max: float | None
    bank_temp_c_max: float | None
    humidity_pct: float | None


class Said(Part):
    """A sentence with its source."""

    text: str
    source: str
    status: str


class Record(Part):
    """One session, whole."""

    format: int = FORMAT
    made_utc: str
    software: str
    id: str
    chamber_id: str
    title: str
    began_utc: str
    ended_utc: str
    outcome: str
    cause: str
    chamber: Chamber
    program: Program
    plan: Plan | None
    sheet: Sheet | None
    zones: tuple[Zone, ...]
    lines: tuple[Line, ...]
    looks: tuple[Look, ...]
    findings: tuple[Found, ...]
    sentences: tuple[str, ...]
    """Conclusions in words."""
    limits: tuple[Said, ...]
    """What the trial cannot show."""
    air: tuple[Air, ...]

    @model_validator(mode="before")
    @classmethod
    def _of_format_1(cls, data: Any) -> Any:
        if isinstance(data, dict) and data.get("format") == 1:
            return data | {"findings": [{"finding": each} for each in data.get("findings", ())]}
        return data

    @property
    def begun_by(self) -> str:
        """Who began the session; empty if no line says."""
        return next((str(line.data.get("by", "")) for line in self.lines if line.kind == "began"), "")

    def photos(self) -> tuple[str, ...]:
        """Hashes of all photos and pictures, each once."""
        pairs = [pair for look in self.looks for pair in look.pictures]
        found = [*(name for name, _ in pairs), *(drawn for _, drawn in pairs if drawn)]
        if self.sheet is not None and self.sheet.photo:
            found.append(self.sheet.photo)
        return tuple(dict.fromkeys(found))


def gather(service: Service, session_id: str) -> Record:
    """The record of a session, ended or not, with what was read of its sheet after its end.

    Raises UnknownName or StoreError.
    """
    session = service.session(session_id)
    chamber, program = Chamber.model_validate(session.chamber), Program.model_validate(session.program)
    lines = _lines(service, session)
    looks, findings, sentences, limits = _seen(service, session_id)
    ended = session.ended
    return Record(
        made_utc=service.utc(),
        software=f"Lampwarden {__version__}",
        id=session.id,
        chamber_id=session.chamber_id,
        title=session.title,
        began_utc=session.began_utc,
        ended_utc=ended.utc if ended else "",
        outcome=ended.outcome if ended else "not ended",
        cause=ended.cause if ended else "",
        chamber=chamber,
        program=program,
        plan=Plan.model_validate(session.plan) if session.plan is not None else None,
        sheet=Sheet.model_validate(session.sheet) if session.sheet is not None else None,
        zones=_zones(chamber, program, lines, service, session),
        lines=lines,
        looks=looks,
        findings=findings,
        sentences=sentences,
        limits=limits,
        air=tuple(
            Air(
                run_s=stretch.run_s,
                air_temp_c=stretch.air_temp_c_mean,
                air_temp_c_max=stretch.air_temp_c_max,
                bank_temp_c_max=max((t for t in stretch.bank_temps_c_max if t is not None), default=None),
                humidity_pct=stretch.humidity_pct_mean,
            )
            for stretch in service.readings(session_id, POINTS_MAX)
        ),
    )


def _lines(service: Service, session: Session) -> tuple[Line, ...]:
    found: list[Line] = []
    after = 0
    while saved := service.journal(session.chamber_id, session.id, after, LINES_AT_ONCE):
        found += [
            Line(seq=one.seq, utc=one.utc, run_s=one.run_s, kind=one.kind, text=one.text, data=one.data)
            for one in saved
        ]
        after = saved[-1].seq
    return tuple(found)


def _zones(
    chamber: Chamber, program: Program, lines: tuple[Line, ...], service: Service, session: Session
) -> tuple[Zone, ...]:
    lit = next((line.data["lit_s"] for line in reversed(lines) if line.kind == "ended"), None)
    if lit is None:
        live = service.snapshot(session.chamber_id)
        here = live.session is not None and live.session_id == session.id
        lit = live.session.lit_s if here and live.session is not None else [0.0] * len(chamber.zones)
    planned = program.planned_lit_s(chamber)
    return tuple(
        Zone(name=zone.name, planned_lit_s=plan, lit_s=got)
        for zone, plan, got in zip(chamber.zones, planned, lit, strict=True)
    )


def _seen(
    service: Service, session_id: str
) -> tuple[tuple[Look, ...], tuple[Found, ...], tuple[str, ...], tuple[Said, ...]]:
    try:
        looks = [*service.looks(session_id), *service.followed(session_id)]
    except NotNow:  # started without a sheet
        return (), (), (), ()
    found = service.conclusions(session_id)
    return (
        tuple(
            Look(
                reading=look.reading,
                saved_by=look.saved_by,
                doses_j_cm2=dict(look.doses_j_cm2),
                pictures=tuple((picture.hash, picture.drawn) for picture in look.pictures),
            )
            for look in looks
        ),
        tuple(_found(each) for each in service.hand_findings(session_id)),
        found.sentences,
        tuple(Said(text=each.text, source=each.source, status=each.status.value) for each in found.limits),
    )


def _found(kept: KeptFinding) -> Found:
    gone = kept.withdrawn
    if gone is None:
        return Found(finding=kept.finding, by=kept.by)
    return Found(finding=kept.finding, by=kept.by, withdrawn_utc=gone.utc, withdrawn_by=gone.by, why=gone.why)
