"""What the plan is for: its title, its sheet, notes."""

from ....errors import ProgramError
from ..elements import Field, Labelled, Select, Text, attribute, box, shown
from .bench import Bench

NO_SHEET = "none described yet"


class AboutPart:
    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        with box("section", "part plan-about", aria_label="The plan"):
            with box("h2"):
                Text("span", "The plan")
                self._id = Text("small")
            with box("div", "plan-inside"), box("div", "plan-two"):
                self._title_entry = Labelled("Title", hint="Up to 40 letters; it heads the session and its record.")
                with self._title_entry:
                    self._title = Field("text", bench.plan.title, self._take_title, maxlength="40", aria_label="Title")
                entry = Labelled("Sheet", hint="What lies in the chamber. Its cells say what is compared.")
                with entry:
                    self._sheet = Select(self._options(), bench.plan.sheet or "", self._take_sheet, aria_label="Sheet")
                    self._link = Text("a", "Describe a sheet", "", href=f"/sheets/{bench.chamber.id}")
                    with box("span", "plan-masks") as self._mask:
                        Text("span", "Its mask:")
                        self._masks = [Text("a", kind.upper(), "", download="") for kind in ("pdf", "svg")]
                self._notes_entry = Labelled("Notes", hint="What you want to find out, what to mind.")
                with self._notes_entry:
                    self._notes = Field(
                        "textarea",
                        bench.program.notes,
                        self._take_notes,
                        maxlength="4000",
                        rows="3",
                        aria_label="Notes",
                    )
        self._seen = (bench.plan.title, bench.plan.sheet, bench.program.notes)

    def show(self) -> None:
        plan = self._bench.plan
        self._id.text = f"short name: {plan.id}"
        seen = (plan.title, plan.sheet, plan.program.notes)
        if seen[0] != self._seen[0]:
            self._title.set(plan.title)
        if seen[1] != self._seen[1]:
            self._sheet.show(self._options(), plan.sheet or "")
        if seen[2] != self._seen[2]:
            self._notes.set(plan.program.notes)
        self._seen = seen
        chamber = self._bench.chamber.id
        self._link.text = "Open this sheet" if self._bench.sheet else "Describe a sheet"
        attribute(self._link, "href", f"/sheets/{chamber}/{plan.sheet}" if self._bench.sheet else f"/sheets/{chamber}")
        # A mask has cells to cut.
        shown(self._mask, bool(self._bench.sheet and self._bench.sheet.cells))
        for link, kind in zip(self._masks, ("pdf", "svg"), strict=True):
            attribute(link, "href", f"/api/sheets/{plan.sheet}/mask.{kind}")
            attribute(link, "aria-label", f"Mask of the sheet as {kind.upper()}")

    def _options(self) -> dict[str, str]:
        some = {"": NO_SHEET} | {key: sheet.title for key, sheet in self._bench.sheets.items()}
        gone = self._bench.plan.sheet
        return some if not gone or gone in some else some | {gone: f"{gone} (removed)"}

    def _take_title(self, text: str) -> None:
        try:
            program = self._bench.program.model_copy(update={"title": text.strip()})
            self._bench.change("the new title", title=text.strip(), program=program)
        except ProgramError as error:
            self._title_entry.wrong(str(error))
            return
        self._seen = (text.strip(), *self._seen[1:])
        self._title_entry.mended()

    def _take_sheet(self, sheet_id: str) -> None:
        self._seen = (self._seen[0], sheet_id or None, self._seen[2])
        # Arms name cells of the sheet that was planned for before.
        self._bench.change("the choice of a sheet", sheet=sheet_id or None, arms={})

    def _take_notes(self, text: str) -> None:
        try:
            self._bench.change_program("the notes", notes=text)
        except ProgramError as error:
            self._notes_entry.wrong(str(error))
            return
        self._seen = (*self._seen[:2], text)
        self._notes_entry.mended()
