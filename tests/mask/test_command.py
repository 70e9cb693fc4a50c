"""`lampwarden mask` as a person types it."""

import subprocess
from pathlib import Path

from tests.command import LAMPWARDEN

from lampwarden.mask.layout import lay_out
from lampwarden.mask.pdf import to_pdf
from lampwarden.mask.svg import to_svg

from .conftest import SHEET_FILE, shipped_sheet


def run(folder: Path, *words: object) -> subprocess.CompletedProcess[str]:
    command = [*LAMPWARDEN, "mask", *map(str, words)]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=60, check=False)


def test_both_files_are_written_and_their_mask_is_described(tmp_path: Path) -> None:
    done = run(tmp_path, SHEET_FILE, "--pdf", "m.pdf", "--svg", "m.svg")
    mask = lay_out(shipped_sheet())
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines() == [
        f"m.pdf: mask {mask.code}, 192 x 220 mm on a4.",
        f"m.svg: mask {mask.code}, 192 x 220 mm on a4.",
        "6 openings; closed: B3. Print at 100 %: the ruler must measure 100 mm.",
    ]
    assert (tmp_path / "m.pdf").read_bytes() == to_pdf(mask)  # made by another process: the same bytes
    assert (tmp_path / "m.svg").read_text(encoding="utf-8") == to_svg(mask)


def test_without_a_file_name_a_pdf_is_written_here(tmp_path: Path) -> None:
    done = run(tmp_path, SHEET_FILE, "--paper", "a3", "--chart", "120x80", "--open-all")
    assert done.returncode == 0
    assert "7 openings; closed: none." in done.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["sheet-mask.pdf"]


def test_mistakes_are_said_in_a_sentence_and_nothing_is_written(tmp_path: Path) -> None:
    (tmp_path / "tiny.toml").write_text(
        SHEET_FILE.read_text(encoding="utf-8").replace("height_mm = 36", "height_mm = 6")
    )
    cases = [
        ((SHEET_FILE, "--paper", "200x200"), 2, "Use --paper a4, or --paper 204x279"),
        (("tiny.toml",), 2, "Cell 'A1' is 36 x 6 mm; an opening needs 10 x 10 mm"),
        (("none.toml",), 2, "none.toml: cannot be read"),
        ((SHEET_FILE, "--pdf", "no/where.pdf"), 1, "cannot be written: No such file or directory. Choose another name"),
    ]
    for words, code, sentence in cases:
        done = run(tmp_path, *words)
        assert done.returncode == code
        assert sentence in done.stderr
        assert "Traceback" not in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["tiny.toml"]
