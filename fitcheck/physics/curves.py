"""Curves given by points, straight between them, and roots inside a bracket."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

_HALVINGS = 64  # enough to shrink any bracket of doubles to neighbouring numbers


def follow(points: Array, values: Array, at: Array) -> Array:
    """Value of a curve that keeps its end values, points and values on the leading axis, all else broadcast.

    Parameters
    ----------
    points : array
        [any] rising along the leading axis; repeated points are allowed and the later one counts.
    values : array
        [any] of the same leading length.
    at : array
        [any] where to read the curve; not a number gives not a number.

    Returns
    -------
    array
        [any] straight-line interpolation.

    Source: straight-line interpolation, elementary.
    """
    here: Array = values[0] + 0.0 * at
    for left, right, low, high in zip(points[:-1], points[1:], values[:-1], values[1:], strict=True):
        width = np.where(right > left, right - left, 1.0)
        share = np.clip((at - left) / width, 0.0, 1.0)
        here = np.where(at >= left, low + share * (high - low), here)
    return np.asarray(np.where(at >= points[-1], values[-1], here))


def bracketed_root(function: Callable[[Array], tuple[Array, Array]], low: Array, high: Array, start: Array) -> Array:
    """Root of a function that goes from at most zero at `low` to at least zero at `high`, elementwise.

    Newton's step is taken while it stays inside the bracket, a halving otherwise, so that each element converges.

    Parameters
    ----------
    function : callable
        [any] gives value and slope at an array of places.
    low, high : array
        [any] the bracket; equal ends return that end.
    start : array
        [any] first guess.

    Returns
    -------
    array
        [any] the root; the last step was below 1e-13 of it.

    Source: Newton's method safeguarded by bisection, elementary numerical analysis.
    """
    low, high, x = np.broadcast_arrays(low, high, start)
    low, high = low.copy(), high.copy()
    x = np.clip(x, low, high)
    for _ in range(2 * _HALVINGS):
        value, slope = function(x)
        low = np.where(value < 0.0, x, low)
        high = np.where(value >= 0.0, x, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            newton = x - value / slope
        step = np.where((newton > low) & (newton < high), newton, 0.5 * (low + high))
        moved = np.abs(step - x)
        x = step
        if not np.any(moved > 1e-13 * np.abs(x) + 1e-19):
            break
    return x
