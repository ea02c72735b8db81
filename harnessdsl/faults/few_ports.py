"""A handful of ports with laws of their own on a straight-line network: Newton's method, many at
once."""

from __future__ import annotations

import numpy as np

from harnessdsl.faults.entries import KINDS, Array, Index, evaluate, limited

MOST_STEPS = 60
STILL_STEP_V = 1e-8
DAMPED_STEP = 20
LATE_STEP, LATE_STILL_V = 35, 1e-5
"""From this step on rounding is taken for what keeps a port moving so little."""
JUNCTION = KINDS.index("junction") + 1


def newton(ohm: Array, before: Array, healthy: Array, rest: Array, kinds: Index, figures: Array,
           guess: Array) -> tuple[Array, Array, Array, np.ndarray]:
    """Solve u = before - ohm e(u), where e is what each port carries beyond its straight line
    `healthy` u + `rest`; all (tasks, ports).

    Returns:
        u, e, the difference of slopes and whether each task was solved.
    """
    count, size = before.shape
    volts = begun(kinds, figures, guess)
    extra = np.zeros_like(before)
    slopes = np.zeros_like(before)
    solved = np.zeros(count, dtype=bool)
    todo = np.arange(count)
    curved = np.asarray((kinds > 0).any(axis=1))
    flat = np.arange(size)
    with np.errstate(all="ignore"):
        for step in range(MOST_STEPS):
            u = volts[todo]
            kind = kinds[todo].ravel()
            figure = figures[:, todo].reshape(3, -1)
            amperes, slope = evaluate(kind, figure, u.ravel())
            amperes, slope = amperes.reshape(u.shape), slope.reshape(u.shape)
            beyond = amperes - rest[todo] - healthy[todo] * u
            differ = slope - healthy[todo]
            local = ohm[todo]
            off = u - before[todo] + np.einsum("tij,tj->ti", local, beyond)
            matrix = local * differ[:, None, :]
            matrix[:, flat, flat] += 1.0
            try:
                move = np.linalg.solve(matrix, -off[:, :, None])[:, :, 0]
            except np.linalg.LinAlgError:
                move = np.stack([_solve_one(m, -o) for m, o in zip(matrix, off, strict=True)])
            wanted = u + move
            if curved[todo].any():
                wanted = limited(kind, figure, u.ravel(), wanted.ravel()).reshape(u.shape)
                if step > DAMPED_STEP:
                    wanted = u + 0.5 * (wanted - u)
            # a straight port is right after one step, a bent one when it stands still; a broken
            # path's own voltage is all rounding where nothing else ties its far side
            moved = np.where(kinds[todo] > 0, np.abs(wanted - u), 0.0).max(axis=1)
            good = np.isfinite(wanted).all(axis=1)
            done = good & (moved < (STILL_STEP_V if step < LATE_STEP else LATE_STILL_V))
            rows = todo[done]
            volts[todo] = wanted
            if len(rows):
                u = volts[rows]
                amperes, slope = evaluate(kinds[rows].ravel(), figures[:, rows].reshape(3, -1),
                                          u.ravel())
                extra[rows] = amperes.reshape(u.shape) - rest[rows] - healthy[rows] * u
                slopes[rows] = slope.reshape(u.shape) - healthy[rows]
                solved[rows] = True
            todo = todo[good & ~done]
            if not len(todo):
                break
    return volts, extra, slopes, solved


def begun(kinds: Index, figures: Array, guess: Array) -> Array:
    """Return a first guess with no diode far beyond its knee, from where it would only creep
    back."""
    rows = kinds == JUNCTION
    found = guess.copy()
    if rows.any():
        saturation, slope_v = figures[0][rows], figures[1][rows]
        found[rows] = np.minimum(found[rows], slope_v * np.log(slope_v / (1.4142 * saturation)))
    return found


def _solve_one(matrix: Array, right: Array) -> Array:
    try:
        return np.asarray(np.linalg.solve(matrix, right))
    except np.linalg.LinAlgError:
        return np.full(len(right), np.nan)
