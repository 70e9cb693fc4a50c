"""Links lead somewhere, the index is whole, and the words of status are explained."""

import re

import pytest
from draw import HERE as NOTES

PAGES = sorted(NOTES.glob("*.md"))


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_links_lead_to_files(path) -> None:
    text = path.read_text(encoding="utf-8")
    missing = [link for link in re.findall(r"\]\(([^)#]+)\)", text) if not (path.parent / link).is_file()]
    assert missing == []


def test_every_page_is_in_the_index_and_every_drawing_on_a_page() -> None:
    index = (NOTES / "README.md").read_text(encoding="utf-8")
    assert [page.name for page in PAGES if page.name != "README.md" and f"]({page.name})" not in index] == []
    wiring = (NOTES / "wiring.md").read_text(encoding="utf-8")
    assert [drawing.name for drawing in NOTES.glob("*.svg") if f"]({drawing.name})" not in wiring] == []


def test_words_of_status_are_explained_and_used() -> None:
    """The index explains every word of status that a page uses, and the pages use every word it explains."""
    index = (NOTES / "README.md").read_text(encoding="utf-8")
    words = re.findall(r"^- \*\*([a-z ]+)\*\*: ", index, flags=re.M)
    assert len(words) == 5
    pages = "".join(page.read_text(encoding="utf-8") for page in PAGES if page.name != "README.md")
    assert [word for word in words if word not in pages] == []
