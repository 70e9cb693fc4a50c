"""A camera and a single shot, drawn from seeds. All numbers are invented; what they lead to is in tests/rig.

Colours of the camera ("camera colours") are what its three channels give, balanced so that a perfect white under the
shot's lamp is 1, 1, 1.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..paper.spectra import WAVELENGTHS_NM, Array, daylight, matching_functions
from .chart import published_patches

Kind = Literal["phone", "fixed"]

_TO_SRGB = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
"""IEC 61966-2-1: XYZ under D65 to linear sRGB."""


_CONES = np.array([[0.38971, 0.68898, -0.07868], [-0.22981, 1.18340, 0.04641], [0.0, 0.0, 1.0]])
"""Hunt-Pointer-Estevez: XYZ to the responses of the eye's cones (from memory; here only a smooth start)."""


def _bell(nm: float, width: float) -> Array:
    return np.exp(-0.5 * ((WAVELENGTHS_NM - nm) / width) ** 2)


@dataclass(frozen=True, slots=True)
class Device:
    """One camera."""

    kind: Kind
    sensitivity: Array
    """Of red, green and blue, shape (3, 31)."""
    contrast: float
    """How much of an S is in the tone curve beside sRGB's own, 0..1."""
    saturation: float
    """How much the colours are stretched from grey; 1: true."""
    distortion: tuple[float, float]
    """k1, k2: a point at radius r of the photo (1: half its diagonal) belongs at r (1 + k1 r^2 + k2 r^4)."""
    focal_share: float
    """Focal length as a share of the photo's long side."""
    vignetting: float
    """Light lost in the corners, as a share."""
    flare_even: float
    """Share of the mean light that veils everything."""
    flare_near: float
    """Share that spreads over the surroundings."""
    blur_share: float
    """Standard deviation of the lens's blur as a share of the long side."""
    sharpening: float
    """Share of the difference from its surroundings that is added to each pixel."""
    electrons: float
    """At saturation of one of 12 million pixels."""
    read_noise: float
    """Standard deviation as a share of saturation, for 12 million pixels."""
    quality: int
    subsampling: int
    """Of its JPEG files, as Pillow counts: 0 is 4:4:4, 2 is 4:2:0."""


def draw_device(camera_seed: int, kind: Kind) -> Device:
    """The camera of this seed."""
    chance = np.random.default_rng([camera_seed, 21])
    near = chance.normal
    # A real camera's channels are nearly, not quite, mixtures of the eye's: a mixture of both is drawn.
    eye = np.maximum(_CONES @ matching_functions().T, 0)
    eye /= eye.max(axis=1, keepdims=True)
    glass = np.stack(
        [_bell(near(602, 4), near(34, 2)), _bell(near(538, 4), near(38, 2)), _bell(near(456, 3), near(27, 2))]
    )
    share = chance.uniform(0.15, 0.4)
    crosstalk = np.eye(3) + np.abs(chance.normal(0.05, 0.03, (3, 3))) * (1 - np.eye(3))
    phone = kind == "phone"
    return Device(
        kind=kind,
        sensitivity=crosstalk @ ((1 - share) * eye + share * glass),
        contrast=float(chance.uniform(0.05, 0.3) if phone else chance.uniform(0.0, 0.1)),
        saturation=float(chance.uniform(1.0, 1.15) if phone else 1.0),
        distortion=(float(near(0, 0.008)), float(near(0, 0.003))),
        focal_share=float(chance.uniform(0.7, 0.8) if phone else chance.uniform(0.9, 1.1)),
        vignetting=float(chance.uniform(0.03, 0.10)),
        flare_even=float(chance.uniform(0.002, 0.008)),
        flare_near=float(chance.uniform(0.002, 0.008)),
        blur_share=float(chance.uniform(0.6, 1.1)) / 4000,
        sharpening=float(chance.uniform(0.2, 0.5)) if phone else 0.0,
        electrons=float(chance.uniform(3500, 7000)) if phone else float(chance.uniform(8000, 15000)),
        read_noise=float(chance.uniform(0.001, 0.003)),
        quality=int(chance.integers(86, 96)) if phone else 88,
        subsampling=2,
    )


@dataclass(frozen=True, slots=True)
class Lamp:
    """Where light comes from."""

    x_mm: float
    y_mm: float
    height_mm: float
    """Above the mask."""
    strength: float
    tint: tuple[float, float, float]
    """What its colour adds to the mean, by channel, about 1."""


@dataclass(frozen=True, slots=True)
class Shot:
    """One press of the button. Lengths on the mask are from its middle."""

    spectrum: Array
    """Relative power of the light, shape (31,)."""
    lamps: tuple[Lamp, ...]
    ambient: float
    """Even light from all sides, against a strength of 1 of all lamps."""
    balance: tuple[float, float, float]
    """How far the white balance is off, as factors; the lowest is 1, so that saturation shows as white."""
    white: float
    """Brightest white card as a share of saturation."""
    tilt_deg: tuple[float, float]
    """Of the camera, about the photo's x and y."""
    roll_deg: float
    fill: float
    """Share of the photo that the mask fills along its tighter side."""
    centre_share: tuple[float, float]
    """Where the mask's middle falls, from the photo's middle, as shares of its sides."""
    laid_mm: tuple[float, float]
    """How far the mask lies from where it lay over the sheet at first."""
    orientation: int
    """EXIF orientation the file is stored by."""


def draw_shot(camera_seed: int, shot: int, kind: Kind) -> Shot:
    """The shot of this number by this camera."""
    chance = np.random.default_rng([camera_seed, shot, 22])
    laid = chance.normal(0, 0.2, 2)
    if kind == "phone":
        return _phone_shot(chance, laid)
    place = np.random.default_rng([camera_seed, 23])
    # The mask is laid anew each time; the lamp's power and colour wander by some thousandths.
    slip = chance.normal(0, 0.001, 2)
    return Shot(
        spectrum=_fine_led(place) * (1 + chance.normal(0, 0.002) * (WAVELENGTHS_NM - 550) / 150),
        lamps=tuple(
            Lamp(side * place.uniform(180, 260), place.normal(0, 30), place.uniform(260, 360), 0.5, _tint(place, 0.006))
            for side in (-1, 1)
        ),
        ambient=float(place.uniform(0.1, 0.3)),
        balance=_balance(place, 0.02),
        white=float(place.uniform(0.82, 0.9) * (1 + chance.normal(0, 0.003))),
        tilt_deg=_two(place.normal(0, 1.0, 2)),
        roll_deg=float(place.normal(0, 1.0) + chance.normal(0, 0.1)),
        fill=0.93,
        centre_share=_two(place.normal(0, 0.005, 2) + slip),
        laid_mm=_two(laid),
        orientation=1,
    )


def _phone_shot(chance: np.random.Generator, laid: Array) -> Shot:
    angle, reach = chance.uniform(0, 2 * np.pi), chance.uniform(300, 900)
    x_mm, y_mm = _two(reach * np.array([np.cos(angle), np.sin(angle)]))
    main = Lamp(x_mm, y_mm, float(chance.uniform(500, 1200)), 1.0, (1.0, 1.0, 1.0))
    spectrum = [_white_led, _daylight, _incandescent][int(chance.choice(3, p=[0.45, 0.45, 0.1]))](chance)
    return Shot(
        spectrum=spectrum,
        lamps=(main, Lamp(float(-main.x_mm * 0.7), float(chance.normal(0, 300)), 900.0, 0.3, _tint(chance, 0.03))),
        ambient=float(chance.uniform(0.2, 0.6)),
        balance=_balance(chance, 0.03),
        white=float(chance.uniform(0.8, 0.97)),
        tilt_deg=_two(np.clip(chance.normal(0, 4, 2), -10, 10)),
        roll_deg=float(np.clip(chance.normal(0, 3), -9, 9)),
        fill=float(chance.uniform(0.8, 0.92)),
        centre_share=_two(chance.normal(0, 0.015, 2)),
        laid_mm=_two(laid),
        orientation=int(chance.choice([1, 3, 6, 8], p=[0.4, 0.05, 0.5, 0.05])),
    )


def _two(values: Array) -> tuple[float, float]:
    return float(values[0]), float(values[1])


def _three(values: Array) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def _balance(chance: np.random.Generator, size: float) -> tuple[float, float, float]:
    factors = 1 + chance.normal(0, size, 3)
    return _three(factors / factors.min())


def _tint(chance: np.random.Generator, size: float) -> tuple[float, float, float]:
    return _three(1 + chance.normal(0, size, 3))


def _white_led(chance: np.random.Generator) -> Array:
    """A blue peak and a broad phosphor."""
    blue = chance.uniform(0.55, 1.0) * _bell(chance.normal(452, 3), 11)
    return blue + _bell(chance.normal(540, 5), 42) * 0.8 + _bell(chance.normal(615, 6), 45) * chance.uniform(0.7, 1.0)


def _fine_led(chance: np.random.Generator) -> Array:
    """One that renders colours well, as for an inspection bank: much of the way to daylight."""
    share = chance.uniform(0.4, 0.8)
    return (1 - share) * _white_led(chance) + share * daylight("d50") / 100


def _daylight(chance: np.random.Generator) -> Array:
    share = chance.uniform(-0.2, 1.2)
    return (1 - share) * daylight("d50") + share * daylight("d65")


def _incandescent(chance: np.random.Generator) -> Array:
    """Planck's law at 2700 to 3000 K, 1 at 560 nm."""
    reach = 1.4388e7 / chance.uniform(2700, 3000)  # second radiation constant in nm K
    found: Array = (560 / WAVELENGTHS_NM) ** 5 * np.expm1(reach / 560) / np.expm1(reach / WAVELENGTHS_NM)
    return found


def camera_colours(device: Device, spectrum: Array, reflectance: Array) -> Array:
    """Camera colours of reflectance, shape (..., 31), under this light; shape (..., 3)."""
    weights = device.sensitivity * spectrum
    found: Array = reflectance @ (weights / weights.sum(axis=1, keepdims=True)).T
    return found


def channel_gains(device: Device, spectrum: Array) -> Array:
    """By how much balancing lifts each channel over the strongest, shape (3,): weak channels show more noise."""
    strength = (device.sensitivity * spectrum).sum(axis=1)
    found: Array = strength.max() / strength
    return found


def colour_matrix(device: Device, spectrum: Array) -> Array:
    """The camera's own way from camera colours to linear sRGB, shape (3, 3).

    Fitted to 24 common colours with white kept, as makers do, then stretched by the camera's saturation.
    """
    patches = published_patches()
    weights = matching_functions() * daylight("d65")[:, None]
    wanted = patches @ weights / weights[:, 1].sum() @ _TO_SRGB.T
    seen = camera_colours(device, spectrum, patches)
    # White kept: the rows sum to 1, so that only two numbers of each are free.
    free, *_ = np.linalg.lstsq(seen[:, :2] - seen[:, 2:], wanted - seen[:, 2:], rcond=None)
    matrix = np.concatenate([free, 1 - free.sum(axis=0, keepdims=True)]).T
    grey = np.full((3, 3), 1 / 3)
    found: Array = (grey + device.saturation * (np.eye(3) - grey)) @ matrix
    return found


def tone_curve(device: Device, steps: int) -> Array:
    """Stored value 0..1 for linear values 0..1 in that many steps: sRGB's curve, bent to an S; shape (steps,)."""
    x = np.linspace(0, 1, steps)
    y = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    found: Array = (1 - device.contrast) * y + device.contrast * (3 * y**2 - 2 * y**3)
    return found
