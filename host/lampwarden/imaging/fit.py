"""From pixels to CIELAB: one fit of everything between the paper and the file.

    paper's XYZ --inverse matrix--> camera RGB --light(x, y) and gains--> --shared tone curve--> encoded value

The unknowns are found together, by least squares over all that is known on the mask: that its white is the same
everywhere, that the patches have their reference values, that grey is grey. On rendered photos the
flat-field is the largest correction; the tone curve is next; which polynomial maps colours matters least.
"""

from dataclasses import dataclass
from enum import Enum, unique

import numpy as np
from numpy.typing import NDArray

from ..colour.spaces import WHITES, Array, srgb_encoded, srgb_linear, to_lab, to_xyz
from .chart import Chart
from .samples import Sample


@unique
class Model(Enum):
    """How linear camera colours become XYZ."""

    AFFINE = "affine"
    """A matrix and an offset, which takes up even flare."""
    ROOT = "root-polynomial"
    """Second order, G. Finlayson, M. Mackiewicz, A. Hurlbert, IEEE Trans. Image Process. 24 (2015) 1460-1470: its terms
    sqrt(rg), sqrt(gb), sqrt(rb) grow with exposure as r, g, b do."""


WHITE_SIGMA = 0.01
"""How evenly white the spots are, as a share: print, cut and dirt (chosen)."""
GREY_SIGMA = 1.5
"""How far grey steps of unknown values are from neutral, a* and b* (chosen)."""
TONE_SIGMA = (0.15, 0.25, 0.25)
"""How far tone curves stray from sRGB's, in the terms below (chosen: wide, they only keep the fit from running off)."""
DRIFT_SIGMA = 0.02
"""How differently the channels' light may fall off over the mask, as a share (chosen)."""
CHROMA = 0.045
"""How much less a* and b* of a strong colour count, per unit of chroma: as for chroma in CIE94."""
NEAR, PAPER_LAB = 80.0, (80.0, 3.0, 18.0)
"""How much less a patch counts the farther it is from the colour of paper: half as much at this distance (chosen)."""

_WHITE = np.array(WHITES["D50"])
_ROUNDS = 12


@dataclass(frozen=True)
class Colours:
    """A fit, ready to be used on samples."""

    shape: "_Shape"
    theta: Array
    """(n,) the unknowns."""
    covariance: Array
    """(n, n)."""
    size_mm: tuple[float, float]
    white_off: Array
    """(spots,) how far each white spot is from the surface, as a share of its light."""

    def lab(self, samples: list[Sample], linear: Array | None = None) -> Array:
        """CIELAB under D50, (n, 3), of samples, or of other linear light (n, 3) at their places."""
        observed = np.stack([s.linear for s in samples]) if linear is None else linear
        return self._lab(self.theta, samples, observed)

    def lab_at(self, points_mm: Array, linear: Array) -> Array:
        """CIELAB under D50, (n, 3), of linear light (n, 3) at points (n, 2): a whole picture's, for instance."""
        return self.shape.lab(self.theta, _tones(linear), _terms(points_mm, self.size_mm, self.shape.order))

    def light(self, points_mm: Array) -> Array:
        """Logarithm (n,) of the light on the mask at points (n, 2), up to a constant."""
        places = _terms(points_mm, self.size_mm, self.shape.order)
        return np.asarray(places @ self.theta[6 : 6 + self.shape.terms])

    def slopes(self, samples: list[Sample], encoded_step: float = 1 / 255) -> Array:
        """How much L*, a*, b* move for each channel's step as encoded: (n, 3 of Lab, 3 of channels)."""
        observed = np.stack([s.linear for s in samples])
        encoded = srgb_encoded(observed)
        moved = []
        for channel in range(3):
            step = np.zeros(3)
            step[channel] = encoded_step
            up, down = srgb_linear(encoded + step / 2), srgb_linear(np.maximum(encoded - step / 2, 0))
            moved.append(self._lab(self.theta, samples, up) - self._lab(self.theta, samples, down))
        return np.stack(moved, axis=-1)

    def u_fit(self, samples: list[Sample]) -> Array:
        """Standard uncertainty (n, 3) of L*, a*, b* from the fit alone, by its covariance."""
        observed = np.stack([s.linear for s in samples])
        steps = np.diag(np.sqrt(np.maximum(np.diag(self.covariance), 1e-12)) * 0.1)
        up, down = (self._lab(self.theta + sign * steps, samples, observed) for sign in (1, -1))
        jacobian = np.moveaxis((up - down) / (2 * steps.sum(axis=0))[:, None, None], 0, -1)
        return np.asarray(np.sqrt(np.einsum("rci,ij,rcj->rc", jacobian, self.covariance, jacobian)))

    def _lab(self, theta: Array, samples: list[Sample], linear: Array) -> Array:
        places = np.stack([_over(sample, self.size_mm, self.shape.order) for sample in samples])
        return self.shape.lab(theta, _tones(linear), places)


@dataclass(frozen=True)
class _Shape:
    """Where each unknown stands in the vector."""

    model: Model
    order: int
    to_srgb: Array
    """(3, 3) from the photo's linear light to that of sRGB; white stays white."""

    @property
    def terms(self) -> int:
        """Of the illumination's surface, without its constant."""
        return (self.order + 1) * (self.order + 2) // 2 - 1

    @property
    def features(self) -> int:
        return 4 if self.model is Model.AFFINE else 6

    @property
    def count(self) -> int:
        return 3 + 3 + self.terms + 2 * _DRIFTS + 3 * self.features

    def relative(self, theta: Array, tones: Array, places: Array) -> Array:
        """Linear light over that of the mask's white at the place, (..., r, 3), for unknowns (..., n)."""
        tone, gain = theta[..., :3], theta[..., 3:6]
        surface = theta[..., 6 : 6 + self.terms]
        drift = theta[..., 6 + self.terms : 6 + self.terms + 2 * _DRIFTS]
        log = np.einsum("rct,...t->...rc", tones[..., 1:], tone) + tones[..., 0] - gain[..., None, :]
        log = log - np.einsum("rt,...t->...r", places, surface)[..., None]
        for channel, part in ((0, drift[..., :_DRIFTS]), (2, drift[..., _DRIFTS:])):
            log[..., channel] -= np.einsum("rt,...t->...r", places[:, :_DRIFTS], part)
        return np.asarray(np.maximum(np.exp(log) @ self.to_srgb.T, 1e-6))

    def xyz(self, theta: Array, relative: Array) -> Array:
        """XYZ over that of the perfect white, (..., r, 3)."""
        matrix = theta[..., -3 * self.features :].reshape(*theta.shape[:-1], 3, self.features)
        return np.asarray(np.einsum("...rf,...cf->...rc", self.spread(relative), matrix))

    def spread(self, relative: Array) -> Array:
        if self.model is Model.AFFINE:
            return np.concatenate((relative, np.ones((*relative.shape[:-1], 1))), axis=-1)
        roots = np.sqrt(relative * np.roll(relative, -1, axis=-1))
        return np.concatenate((relative, roots), axis=-1)

    def lab(self, theta: Array, tones: Array, places: Array) -> Array:
        return to_lab(self.xyz(theta, self.relative(theta, tones, places)) * _WHITE)


_DRIFTS = 5
_AS_IT_IS = np.eye(3)


def fit(
    white: list[Sample],
    patches: list[Sample],
    greys: list[Sample],
    chart: Chart,
    size_mm: tuple[float, float],
    model: Model = Model.AFFINE,
    order: int = 2,
    to_srgb: Array = _AS_IT_IS,
    clear: NDArray[np.bool_] | None = None,
) -> Colours:
    """The fit over white spots, the 24 patches and the grey steps of one photo. `clear`: patches to be believed."""
    clear = np.ones(len(patches), bool) if clear is None else clear
    shape = _Shape(model, order, to_srgb)
    samples = [*white, *patches, *greys]
    n_white, n_patches = len(white), len(patches)
    tones = _tones(np.stack([s.linear for s in samples]))
    places = np.stack([_over(s, size_mm, order) for s in samples])
    reference = np.array(chart.patches)
    sigma = _sigma(reference)
    grey_reference = np.array(chart.greys[: len(greys)]) if chart.greys else None
    theta, believed = _start(shape, tones, places, n_white, n_patches, reference)

    prior = np.full(shape.count, np.inf)
    prior[:3] = TONE_SIGMA
    prior[6 : 6 + shape.terms] = 0.5
    prior[6 + shape.terms : 6 + shape.terms + 2 * _DRIFTS] = DRIFT_SIGMA
    kept = np.isfinite(prior)

    def residuals(theta: Array) -> tuple[Array, Array, Array, Array]:
        relative = shape.relative(theta, tones, places)
        lab = to_lab(shape.xyz(theta, relative[..., n_white:, :]) * _WHITE)
        of_white = np.log(np.maximum(relative[..., :n_white, :], 1e-6)) / WHITE_SIGMA
        of_patches = (lab[..., :n_patches, :] - reference) / sigma
        rest = lab[..., n_patches:, :]
        of_greys = (
            rest[..., 1:] / GREY_SIGMA if grey_reference is None else (rest - grey_reference) / _sigma(grey_reference)
        )
        return of_white, of_patches, of_greys, (theta / prior)[..., kept]

    def flat(parts: tuple[Array, ...], weights: list[Array]) -> Array:
        scaled = [part * weight[:, None] for part, weight in zip(parts[:3], weights, strict=True)]
        return np.concatenate([part.reshape(*part.shape[:-2], -1) for part in scaled] + [parts[3]], axis=-1)

    weights: list[Array] = [believed, clear.astype(np.float64), np.ones(len(greys))]
    damping, jacobian = 1e-3, np.empty(0)
    now = residuals(theta)
    for _ in range(_ROUNDS):
        step = 1e-5
        moved = flat(residuals(theta + step * np.eye(shape.count)), weights)
        here = flat(now, weights)
        jacobian = ((moved - here) / step).T
        normal = jacobian.T @ jacobian
        better = False
        for _ in range(6):
            delta = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-9), -jacobian.T @ here)
            there = residuals(theta + delta)
            cost = float(np.sum(flat(there, weights) ** 2))
            if cost < np.sum(here**2):
                better, damping = True, damping / 5
                break
            damping *= 6
        if not better:
            break
        gain = float(np.sum(here**2)) - cost
        theta, now = theta + delta, there
        weights = [_believed(now[0]), np.where(clear, _believed(now[1]), 0.0), _believed(now[2])]
        if gain < 1e-4 * cost:
            break
    here = flat(now, weights)
    free = len(here) - shape.count
    # A chart that agrees with itself may still differ from its published values, all patches alike.
    scale = max(chart.tolerance_de00**2, float(here @ here) / free)
    covariance: Array = np.asarray(scale * np.linalg.pinv(jacobian.T @ jacobian), dtype=np.float64)
    return Colours(shape, theta, covariance, size_mm, np.abs(now[0]).max(axis=-1) * WHITE_SIGMA)


def _sigma(reference: Array) -> Array:
    """What one CIELAB unit of error weighs, (n, 3)."""
    chroma = 1 + CHROMA * np.hypot(reference[:, 1], reference[:, 2])
    far = 1 + np.sqrt(((reference - PAPER_LAB) ** 2).sum(axis=1)) / NEAR
    return np.stack((far, far * chroma, far * chroma), axis=-1)


def _believed(part: Array) -> Array:
    """Root weight of each place, by how far it is off: a dirty spot or a glare on a patch loses its say (Cauchy)."""
    off = np.sqrt((part**2).mean(axis=-1))
    typical = max(float(np.median(off)), 0.3)
    return np.asarray(1 / np.sqrt(1 + (off / (3 * typical)) ** 2))


def _tones(linear: Array) -> Array:
    """(n, 3, 4): the logarithm of linear light by sRGB's curve, and the terms by which the true curve may differ.

    All are 0 at full scale. The first bends as a gamma does, the others lift or press highlights and shadows.
    """
    light = np.maximum(linear, 1e-5)
    dark = 1 - srgb_encoded(light)
    log = np.log(light)
    return np.stack((log, log / 3, dark * 2, (dark * 2) ** 2), axis=-1)


def _over(sample: Sample, size_mm: tuple[float, float], order: int) -> Array:
    """The surface's terms at a place, averaged over its area (Gauss-Legendre, 3 x 3)."""
    offsets = np.array((-0.7746, 0, 0.7746)) / 2
    weights = np.array((5, 8, 5)) / 18
    x, y = (middle + side * offsets for middle, side in zip(sample.middle_mm, sample.size_mm, strict=True))
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return np.asarray(np.outer(weights, weights).ravel() @ _terms(points, size_mm, order))


def _terms(points_mm: Array, size_mm: tuple[float, float], order: int) -> Array:
    """x, y, xx, xy, yy ... of points (n, 2), the mask's longer side running from -1 to 1; (n, terms)."""
    x, y = ((points_mm - np.array(size_mm) / 2) / (max(size_mm) / 2)).T
    return np.stack(
        [x ** (degree - of_y) * y**of_y for degree in range(1, order + 1) for of_y in range(degree + 1)], -1
    )


def _start(
    shape: _Shape, tones: Array, places: Array, n_white: int, n_patches: int, reference: Array
) -> tuple[Array, Array]:
    """Unknowns to begin with: sRGB's curve, the flat-field of the spots, and a linear fit of the patches' XYZ.

    And how far each spot is to be believed at first. The flat-field is fitted by least absolute misfit, so that a few
    spots under a reflection, or under something that lies on them, have no say; quadratic, for few spots.
    """
    theta = np.zeros(shape.count)
    log, terms = tones[:n_white, :, 0], min(shape.terms, 5)
    design = np.hstack((np.ones((n_white, 1)), places[:n_white, :terms]))
    damping = 1e-3 * np.eye(design.shape[1])
    trust = np.ones(n_white)
    for _ in range(20):
        left, right = (
            np.vstack((design * trust[:, None], damping)),
            np.vstack((log * trust[:, None], 0 * damping[:, :3])),
        )
        solved = np.linalg.lstsq(left, right, rcond=None)[0]
        off = np.sqrt(((log - design @ solved) ** 2).mean(axis=1))
        trust = 1 / np.sqrt(np.maximum(off, 0.003))
    theta[3:6] = solved[0]
    theta[6 : 6 + terms] = solved[1:].mean(axis=1)
    part = slice(n_white, n_white + n_patches)
    features = shape.spread(shape.relative(theta, tones[part], places[part]))
    xyz = to_xyz(reference) / _WHITE
    heavy = 1 / (xyz[:, 1:2] + 0.05)
    penalty = 1e-3 * np.eye(shape.features)
    left, right = np.vstack((features * heavy, penalty)), np.vstack((xyz * heavy, 0 * penalty[:, :3]))
    theta[-3 * shape.features :] = np.linalg.lstsq(left, right, rcond=None)[0].T.ravel()
    return theta, np.asarray(1 / (1 + (off / 0.03) ** 2))
