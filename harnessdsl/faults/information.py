"""What a way of looking is expected to tell, in bits: how far it narrows the causes down."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from harnessdsl.faults.entries import Array
from harnessdsl.faults.likelihood import METER_SHARE, METER_V

BIN = 2.0
"""Width of an outcome in standard deviations of a reading."""
_STEP = 0.25
_EDGE = 6.0
SEEN_NOISE = 0.04
"""Share of plain outcomes that are seen wrong."""


def voltage_scale(volts: Array) -> Array:
    """Return voltages on a scale where a reading's standard deviation is 1."""
    return np.asarray(np.arcsinh(volts * METER_SHARE / METER_V) / METER_SHARE)


def ohm_scale(ohms: Array) -> Array:
    """The same of resistances: 10 % and 0.3 ohm; everything above a megohm is open."""
    return np.asarray(np.log((np.minimum(ohms, 2e6) + 2.0) / 2.0) / 0.12)


def reading_bits(scaled: Array, weights: Array, absent: float = 0.0) -> Array:
    """Return the bits that a reading is expected to give, for every column of points.

    Args:
        scaled: readings (candidates, points) on a scale with standard deviation 1; the last row is
            the sound car's.
        weights: of the candidates, summing to 1.
        absent: chance that the fault is away just now, so that the sound car's reading shows.
    """
    low = float(scaled.min()) - _EDGE
    at = ((scaled - low) / _STEP + 0.5).astype(np.intp)
    # most points tell the same as others: each distinct one is computed once
    marks = np.random.default_rng(0).integers(1, 2**40, len(at)) @ at
    _, first, which = np.unique(marks, return_index=True, return_inverse=True)
    return _bits(at[:, first], weights, absent)[which]


def _bits(at: np.ndarray, weights: Array, absent: float) -> Array:
    count = int((int(at.max()) * _STEP + _EDGE) / BIN) + 1
    grid = np.arange(0.0, count * BIN + _STEP, _STEP)
    edges = np.arange(count + 1) * BIN
    table = np.diff(ndtr(edges[None, :] - grid[:, None]), axis=1)
    table /= table.sum(axis=1, keepdims=True)
    at = np.minimum(at, len(grid) - 1)
    at, sound = at[:-1], at[-1]
    if absent > 0:
        mixed = (1 - absent) * table[at] + absent * table[sound][None, :, :]
        own = -(mixed * np.log2(np.maximum(mixed, 1e-12))).sum(axis=2)
        noise = weights @ own
    else:
        entropy = -(table * np.log2(np.maximum(table, 1e-12))).sum(axis=1)
        noise = weights @ entropy[at]
    points = at.shape[1]
    # candidates that read alike share a row of the table: sum their weights first
    flat = at + np.arange(points)[None, :] * len(grid)
    share = np.bincount(flat.ravel(), np.repeat(weights, points), points * len(grid))
    mean = share.reshape(points, len(grid)) @ table
    if absent > 0:
        mean = (1 - absent) * mean + absent * table[sound]
    total = -(mean * np.log2(np.maximum(mean, 1e-12))).sum(axis=1)
    return np.asarray(np.maximum(total - noise, 0.0))


def plain_bits(outcomes: np.ndarray, weights: Array, noise: float = SEEN_NOISE,
               absent: float = 0.0) -> Array:
    """Return the bits of observations with plain outcomes, one now and then seen wrong.

    Args:
        outcomes: small numbers from 0 on, (candidates, observations).
    """
    noise += absent  # roughly: away, it looks like another outcome
    most = int(outcomes.max()) + 1
    share = np.stack([weights @ (outcomes == value) for value in range(most)])
    there = share > 0
    kinds = there.sum(axis=0)
    wrong = noise / np.maximum(kinds - 1, 1)
    mean = np.where(there, share * (1 - noise) + (1 - share) * wrong, 1.0)
    own = -((1 - noise) * np.log2(1 - noise) + noise * np.log2(wrong))
    gain = -(mean * np.log2(mean)).sum(axis=0) - own
    return np.asarray(np.where(kinds > 1, np.maximum(gain, 0.0), 0.0))
