"""The treatment record of the session, to read, print, reckon with or carry to another host."""

from ..elements import Text, box

FORMS = (
    ("html", "Read it", "A page that stands alone, to keep or to send."),
    ("pdf", "Print it", "The same on A4."),
    ("/bag.zip", "The record with its photos", "For an archive or another computer: every file with its hash (BagIt)."),
    ("json", "As data", "All of it but the photos, for programs."),
)
TABLES = (
    ("session", "the session"),
    ("zones", "light by zone"),
    ("colours", "colours"),
    ("findings", "found by hand"),
    ("climate", "climate"),
    ("journal", "journal"),
)


class RecordPart:
    def __init__(self, chamber_id: str, session_id: str) -> None:
        base = f"/api/chambers/{chamber_id}/sessions/{session_id}/record"
        with box("section", "part", aria_label="Treatment record"):
            Text("h2", "Treatment record")
            Text(
                "p",
                "What was done, by whom, with what light, what was read and found, and what this cannot show.",
                "lead",
            )
            with box("ul", "rs-record"):
                for ending, name, about in FORMS:
                    with box("li"):
                        href = f"{base}{ending}" if ending.startswith("/") else f"{base}.{ending}"
                        Text("a", name, "button quiet", href=href)
                        Text("span", about)
            with box("p", "rs-tables"):
                Text("span", "Tables for a spreadsheet (CSV): ")
                for name, words in TABLES:
                    Text("a", words, href=f"{base}/{name}.csv", download="")
