"""Curves given by points, straight between them, and roots inside a bracket."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

_NOTHING = 1e-15  # m: a step so small changes no figure that anyone reads


def follow(points: Array, values: Array, at: Array) -> Array:
    """Value of a curve that keeps its end values, points and values on the leading axis, all else broadcast.

    Parameters
    ----------
    points : array
        [any] rising along the leading axis; a point that is repeated adds nothing.
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
    here: Array = values[0] + np.zeros(np.broadcast_shapes(at.shape, points.shape[1:]))
    for left, right, low, high in zip(points[:-1], points[1:], values[:-1], values[1:], strict=True):
        width = right - left
        # what each piece adds, without a choice between pieces: choices that change from place to place are slow
        part = np.maximum(at - left, 0.0)
        part = np.minimum(part, width)
        part *= (high - low) / np.where(width > 0.0, width, 1.0)
        here += part
    return here


def running(combine: np.ufunc, rows: Array) -> Array:
    """What `combine` makes of each row and all before it; much faster along a leading axis than its own `accumulate`.

    Parameters
    ----------
    combine : ufunc
        [-] of two arrays, such as the greater of both.
    rows : array
        [any] rows on the leading axis.

    Returns
    -------
    array
        [any] of the same shape.

    Source: definition.
    """
    found = np.array(rows)
    for number in range(1, len(found)):
        here = found[number, ...]  # an array even where a row is one number
        combine(found[number - 1, ...], here, out=here)
    return found


def bracketed_root(function: Callable[[Array], tuple[Array, Array | None]], low: Array, high: Array, start: Array) -> Array:
    """Root of a function that goes from at most zero at `low` to at least zero at `high`, elementwise.

    A step of Newton, or of the secant where no slope is given, is taken while it stays inside the bracket and
    at least halves the step before; else the bracket is halved, so that each element converges whatever the function does.

    Parameters
    ----------
    function : callable
        [any] gives value and slope, or None for the slope, at an array of places.
    low, high : array
        [any] the bracket; equal ends return that end.
    start : array
        [any] first guess.

    Returns
    -------
    array
        [any] the root; the last step was below 1e-13 of it, or below 1e-15; nan where the bracket is not a number.

    Source: Newton's method and the rule of false position with halved weights, safeguarded by bisection, elementary
    numerical analysis.
    """
    low, high, x = np.broadcast_arrays(low, high, start)
    x = np.clip(x, low, high)
    below = above = np.full(x.shape, np.nan)  # values at the ends of the bracket, where known
    moved = high - low
    done = ~(moved > 0.0)  # so is a bracket that is not a number
    # it ends: the bracket halves where it is halved, and between two halvings each step at most halves the one before
    while not np.all(done):
        value, slope = function(x)
        under = value < 0.0
        # an end kept twice counts half, or the secant would creep along from the other end
        if slope is None:
            below, above = np.where(under, value, 0.5 * below), np.where(under, 0.5 * above, value)
        low, high = np.where(under, x, low), np.where(under, high, x)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = x - value / slope if slope is not None else (low * above - high * below) / (above - below)
        # a step that does not at least halve the one before is not to be trusted
        good = (step >= low) & (step <= high) & (np.abs(step - x) <= 0.5 * moved)
        step = np.where(good, step, 0.5 * (low + high))
        moved = np.abs(step - x)
        x = np.where(done | (value == 0.0), x, step)
        done = done | (value == 0.0) | ~(moved > 1e-13 * np.abs(x) + _NOTHING)
    return x
