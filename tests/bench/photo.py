"""A photo of 24 megapixels, and its decoding as a worker process does it."""

from pathlib import Path

import numpy as np
from PIL import Image

WIDTH, HEIGHT = 6000, 4000


def make(path: Path) -> None:
    """Writes a JPEG of soft tones and grain, hard to compress as paper is; some 10 MB."""
    draw = np.random.default_rng(1)
    tone = np.linspace(90, 220, WIDTH, dtype=np.float32)[None, :, None] + np.array([0, -6, -22], dtype=np.float32)
    grain = draw.normal(0, 7, (HEIGHT, WIDTH, 1)).astype(np.float32)
    Image.fromarray(np.clip(tone + grain, 0, 255).astype(np.uint8)).save(path, quality=92)


def decode(path: str) -> tuple[float, float, float]:
    """Mean red, green and blue, 0..255."""
    with Image.open(path) as photo:
        pixels = np.asarray(photo.convert("RGB"))
    red, green, blue = pixels.reshape(-1, 3).mean(axis=0)
    return float(red), float(green), float(blue)
