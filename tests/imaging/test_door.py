"""The door: what is let in, what is refused and with which words, and that pixels come out upright and unchanged."""

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from lampwarden.colour.spaces import rgb_to_xyz_d50, srgb_linear
from lampwarden.errors import PhotoRefused
from lampwarden.imaging import door
from lampwarden.imaging.door import decode, look

HEIC = Path(__file__).parent / "turned.heic"
WIDTH, HEIGHT = 800, 640


def picture() -> np.ndarray:
    """Smooth, different in each corner, so that every turn shows."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    return np.stack((x / WIDTH * 250, y / HEIGHT * 250, 255 - (x + y) / (WIDTH + HEIGHT) * 200), -1).astype(np.uint8)


def file(format: str, values: np.ndarray | None = None, mode: str | None = None, **more) -> bytes:
    out = io.BytesIO()
    image = Image.fromarray(picture() if values is None else values)
    (image.convert(mode) if mode else image).save(out, format, **more)
    return out.getvalue()


def png(width: int, height: int, bits: int = 8, rows: bytes = b"") -> bytes:
    """A PNG by its bytes: the header says this size whatever the rows hold."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, bits, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def png16() -> bytes:
    values = (picture().astype(int) * 256 + 7).astype(">u2")
    return png(WIDTH, HEIGHT, 16, b"".join(b"\0" + row.tobytes() for row in values))


def tiff16(orientation: int = 1) -> bytes:
    """Uncompressed 16-bit RGB as one strip (TIFF 6.0)."""
    values = (picture().astype(int) * 256 + 7).astype("<u2").tobytes()
    tags = [(256, 3, 1, WIDTH), (257, 3, 1, HEIGHT), (258, 3, 3, 8), (259, 3, 1, 1), (262, 3, 1, 2)]
    tags += [(273, 4, 1, 14), (274, 3, 1, orientation), (277, 3, 1, 3), (278, 3, 1, HEIGHT), (279, 4, 1, len(values))]
    data = struct.pack("<HHH", 16, 16, 16) + values
    entries = b"".join(struct.pack("<HHII", *tag) for tag in tags)
    return b"II*\0" + struct.pack("<I", 8 + len(data)) + data + struct.pack("<H", len(tags)) + entries + bytes(4)


@pytest.mark.parametrize("format", ["PNG", "TIFF", "WEBP"])
def test_lossless_formats_come_out_as_they_went_in(format):
    data = file(format, **({"lossless": True} if format == "WEBP" else {}))
    found = look(data)
    assert (found.format.upper(), found.width_px, found.height_px, found.bits) == (format, WIDTH, HEIGHT, 8)
    assert (decode(data, found).values == picture()).all()


@pytest.mark.parametrize("data", [png16(), tiff16()], ids=["PNG", "TIFF"])
def test_sixteen_bits_are_kept(data):
    found = look(data)
    assert found.bits == 16
    pixels = decode(data, found)
    assert (pixels.values == picture().astype(int) * 256 + 7).all()
    assert pixels.linear[65535] == pytest.approx(1)
    assert len(pixels.linear) == 65536


def test_a_jpeg_and_its_draft_at_half_size():
    data = file("JPEG", np.kron(picture(), np.ones((1, 4, 1), np.uint8)), quality=95)
    found = look(data)
    full, half = decode(data, found, draft=False), decode(data, found)
    assert (full.reduced, half.reduced) == (1, 2)
    means = full.values.reshape(HEIGHT // 2, 2, WIDTH * 2, 2, 3).mean(axis=(1, 3))
    assert np.abs(half.values - means).mean() < 1


def test_heic_is_turned_once():
    """The file holds `picture()` turned by its own rotation box, and says so in EXIF as well."""
    data = HEIC.read_bytes()
    found = look(data)
    assert (found.format, found.orientation, found.width_px, found.height_px) == ("HEIC", 1, WIDTH, HEIGHT)
    assert np.abs(decode(data, found).values.astype(int) - picture()).mean() < 2.5


def oriented(orientation: int) -> Image.Exif:
    exif = Image.Exif()
    exif[274] = orientation
    return exif


@pytest.mark.parametrize("format", ["JPEG", "PNG", "TIFF"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_is_upright(orientation, format):
    data = file(format, exif=oriented(orientation))
    found = look(data)
    upright = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))))
    assert (found.height_px, found.width_px) == upright.shape[:2]
    assert (decode(data, found).values == upright).all()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_of_sixteen_bits_is_upright(orientation):
    data = tiff16(orientation)
    small = file("TIFF", exif=oriented(orientation))
    upright = decode(small, look(small)).values
    assert (decode(data, look(data)).values == upright.astype(int) * 256 + 7).all()


def test_time_and_camera_from_exif(shoot):
    found = look(shoot())
    assert found.taken.endswith("+00:00")
    assert found.camera == "simulated simulated camera"
    assert look(file("PNG")).taken == ""


@pytest.mark.parametrize(
    ("time", "offset", "taken"),
    [
        ("2024:05:01 10:00:00", None, "2024-05-01T10:00:00"),
        ("2024:05:01 10:00:00\0", "+02:00", "2024-05-01T10:00:00+02:00"),
        ("2024:05:01 10:00:00", "east", "2024-05-01T10:00:00"),
        ("    :  :     :  :  ", "+02:00", ""),
        ("", None, ""),
    ],
)
def test_times_as_cameras_write_them(time, offset, taken):
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({36867: time} | ({36881: offset} if offset else {}))
    assert look(file("JPEG", exif=exif)).taken == taken


def icc(primaries: str, curve: bytes) -> bytes:
    """A matrix profile (ICC.1:2010) of these primaries and this tone curve."""
    columns = (rgb_to_xyz_d50(primaries) / 100).T
    blobs = [(name, b"XYZ " + bytes(4) + struct.pack(">3i", *(round(v * 65536) for v in column)))
             for name, column in zip((b"rXYZ", b"gXYZ", b"bXYZ"), columns, strict=True)]  # fmt: skip
    blobs += [(name, curve) for name in (b"rTRC", b"gTRC", b"bTRC")]
    start, table, body = 128 + 4 + 12 * len(blobs), b"", b""
    for name, blob in blobs:
        blob += bytes(-len(blob) % 4)
        table += struct.pack(">4sII", name, start + len(body), len(blob))
        body += blob
    whole = struct.pack(">I", len(blobs)) + table + body
    head = struct.pack(">I4sI4s4s4s", 128 + len(whole), bytes(4), 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    return (head + bytes(12) + b"acsp" + bytes(128))[:128] + whole


SRGB_TERMS = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
SRGB_CURVE = b"para" + bytes(4) + struct.pack(">HH5i", 3, 0, *(round(v * 65536) for v in SRGB_TERMS))
TABLE = (
    b"curv"
    + bytes(4)
    + struct.pack(">I1024H", 1024, *np.rint(srgb_linear(np.linspace(0, 1, 1024)) * 65535).astype(int))
)


@pytest.mark.parametrize("curve", [SRGB_CURVE, TABLE], ids=["formula", "table"])
@pytest.mark.parametrize("primaries", ["sRGB", "Display P3"])
def test_a_profile_is_read(primaries, curve):
    data = file("PNG", icc_profile=icc(primaries, curve))
    found = look(data)
    pixels = decode(data, found)
    assert found.profile == primaries
    assert pixels.linear == pytest.approx(srgb_linear(np.linspace(0, 1, 256)), abs=2e-5)
    assert rgb_to_xyz_d50() @ pixels.matrix == pytest.approx(rgb_to_xyz_d50(primaries), abs=0.3)


def test_a_gamma_of_its_own():
    data = file("PNG", icc_profile=icc("sRGB", b"curv" + bytes(4) + struct.pack(">IH", 1, 563)))
    assert decode(data, look(data)).linear[128] == pytest.approx((128 / 255) ** (563 / 256))


@pytest.mark.parametrize("profile", [b"", b"short", bytes(200), icc("sRGB", b"mft2" + bytes(20))])
def test_a_profile_that_cannot_be_read_counts_as_srgb(profile):
    found = look(file("PNG", icc_profile=profile))
    assert "sRGB" in found.profile


def frames() -> bytes:
    out = io.BytesIO()
    one = Image.fromarray(picture())
    one.save(out, "WEBP", save_all=True, append_images=[one.transpose(Image.Transpose.FLIP_LEFT_RIGHT)])
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "no photo that can be read"),
        (b"hello" * 1000, "no photo that can be read"),
        (b"\xff\xd8\xff\xe0" + bytes(100), "no photo that can be read"),
        (file("GIF"), "no photo that can be read"),
        (file("BMP"), "no photo that can be read"),
        (file("PNG")[:30], "no photo that can be read"),
        (png(8001, 8000), "at most 64 megapixels"),
        (png(60_000, 60_000), "64 megapixels"),
        (png(900, 599), "shorter side needs 600"),
        (file("JPEG", mode="L"), "colour photo"),
        (file("JPEG", mode="CMYK"), "colour photo"),
        (frames(), "a file of its own"),
    ],
    ids=["empty", "text", "start", "GIF", "BMP", "header", "bomb", "large bomb", "small", "grey", "CMYK", "film"],
)
def test_what_is_refused_by_its_header(data, says):
    with pytest.raises(PhotoRefused, match=says):
        look(data)


def test_a_file_too_large():
    with pytest.raises(PhotoRefused, match="at most 80 MB"):
        look(bytes(door.BYTES_MAX + 1))


@pytest.mark.parametrize("format", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("share", [0.3, 0.97])
def test_a_file_cut_short(format, share):
    data = file(format, (picture() ^ np.random.default_rng(1).integers(0, 32, picture().shape, dtype=np.uint8)))
    data = data[: int(len(data) * share)]
    with pytest.raises(PhotoRefused, match=r"cut short|no photo"):
        decode(data, look(data))


@pytest.mark.parametrize("data", [png16(), tiff16()], ids=["PNG", "TIFF"])
def test_sixteen_bits_cut_short(data):
    data = data[: len(data) // 2]
    with pytest.raises(PhotoRefused, match=r"cut short|no photo"):
        decode(data, look(data))


def test_a_bomb_costs_no_memory():
    """60,000 x 60,000 in some bytes: refused by the header, before anything is decoded."""
    bomb = png(60_000, 60_000, rows=b"\0" * 1000)
    assert len(bomb) < 200
    with pytest.raises(PhotoRefused):
        look(bomb)


@pytest.mark.parametrize("format", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_damage_is_refused_or_harmless(format):
    """Bytes changed in header and body: never another error than a refusal, which a person can act on."""
    draw = np.random.default_rng(7)
    whole = file(format)
    for _ in range(25):
        data = bytearray(whole)
        for reach in (64, 600, len(data)):
            data[int(draw.integers(min(reach, len(data))))] = int(draw.integers(256))
        try:
            values = decode(bytes(data), look(bytes(data))).values
        except PhotoRefused:
            continue
        assert values.ndim == 3
