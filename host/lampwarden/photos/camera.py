"""The chamber's camera: a command that writes a photo to the file it is given."""

import shlex
import subprocess
import tempfile
from pathlib import Path

from ..errors import LampwardenError

SHOT_S_MAX = 60.0
"""Longest time the command may take, s."""
FILES_MAX = 12
"""A command that brackets writes several photos; more than this is a mistake."""


def shoot(command: str) -> list[bytes]:
    """Runs the camera's command, {file} replaced by a path in a fresh folder; the photos it wrote there, by name.

    The command is no shell line: words are split as a shell would, and nothing else is. It may write more photos into
    the folder of {file}, for a bracket. Raises LampwardenError with what the command said.
    """
    with tempfile.TemporaryDirectory(prefix="lampwarden-photo-") as folder:
        target = Path(folder) / "photo.jpg"
        try:
            words = [word.replace("{file}", str(target)) for word in shlex.split(command)]
            done = subprocess.run(
                words, capture_output=True, text=True, errors="replace", timeout=SHOT_S_MAX, check=False, cwd=folder
            )
        except ValueError as error:
            raise LampwardenError(f"The camera command cannot be understood: {error}. Correct it.") from None
        except OSError as error:
            raise LampwardenError(f"The camera command cannot be run: {error.strerror}: {words[0]}.") from None
        except subprocess.TimeoutExpired:
            raise LampwardenError(
                f"The camera command took longer than {SHOT_S_MAX:.0f} s and was ended. Try it at a prompt."
            ) from None
        if done.returncode != 0:
            said = (done.stderr or done.stdout).strip()[-300:] or "nothing"
            raise LampwardenError(f"The camera command failed with code {done.returncode}. It said: {said}")
        files = sorted(path for path in Path(folder).rglob("*") if path.is_file() and path.stat().st_size)
        if not files:
            raise LampwardenError("The camera command ended well but wrote no photo to {file}. Try it at a prompt.")
        if len(files) > FILES_MAX:
            raise LampwardenError(f"The camera command wrote {len(files)} files; at most {FILES_MAX} are taken.")
        return [path.read_bytes() for path in files]
