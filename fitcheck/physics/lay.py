"""Laying the fingers' way: knots where a pressure starts, and where a falling load makes the fingers jump."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from fitcheck.physics.balance import Hydraulics
from fitcheck.physics.curves import Array, bracketed_root, running
from fitcheck.physics.springs import Spring, finer
from fitcheck.physics.way import Way, step_past

__all__: list[str] = []

Mask = npt.NDArray[np.bool_]

_PIECES = 12  # a piece of a diaphragm on which the fluid taken may turn back is cut into so many


def lay_way(spring: Spring, hydraulics: Hydraulics, kinks: tuple[Array, ...] = ()) -> Way:
    """Lay the knots of a way.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against.
    hydraulics : Hydraulics
        [SI] constants of the volume balance.
    kinks : tuple of array
        [N] finger loads at which a pressure starts, pressing and letting back; each becomes a knot where it is crossed.

    Returns
    -------
    Way
        [SI] knots on a leading axis.

    Source: derivation: volume balance of the line.
    """
    spring = with_kinks(spring, kinks)
    way = _fill(spring, hydraulics)
    back = _turns_back(way)
    if not np.any(back):
        return way
    if not spring.straight:
        way, back = _fill(finer(spring, _PIECES, back), hydraulics), np.repeat(back, _PIECES, axis=0)
    return _with_jumps(way, back)


def with_kinks(spring: Spring, kinks: tuple[Array, ...]) -> Spring:
    """Put a knot where the load crosses a kink, on each piece that crosses it for any kit; in the others it falls on its start.

    Parameters
    ----------
    spring : Spring
        [SI] what the fingers push against.
    kinks : tuple of array
        [N] finger loads at which a pressure starts.

    Returns
    -------
    Spring
        [SI] the same load on more knots, or the very one where there is nothing to put in.

    Source: definition.
    """
    kinks = tuple(kink for kink in kinks if np.any(kink > 0.0))
    if not kinks:
        return spring
    places, owners = [spring.travel[0]], [0]
    last = len(spring.travel) - 1
    far = spring.travel[-1] + 1.0
    for j in range(last + 1 if not spring.straight else last):
        low, right = spring.load[j], spring.travel[j + 1] if j < last else far
        high = spring.load[j + 1] if j < last else spring.past(j, far - spring.travel[j])[0]
        crossed = [kink for kink in kinks if np.any((low - kink) * (high - kink) < 0.0)]
        inside = [_crossing(spring, j, right - spring.travel[j], low, high, kink) for kink in crossed]
        if len(inside) == 2:
            inside = [np.minimum(*inside), np.maximum(*inside)]
        places += [spring.travel[j] + past for past in inside]
        owners += [j] * len(inside)
        if j < last:
            places.append(right)
            owners.append(j + 1)
    if len(places) == len(spring.travel):
        return spring
    return spring.cut(np.stack(np.broadcast_arrays(*places)), np.array(owners))


def _crossing(spring: Spring, j: int, width: Array, low: Array, high: Array, kink: Array) -> Array:
    """Travel past knot `j` at which the load crosses a kink; 0 where it does not."""
    within = (low - kink) * (high - kink) < 0.0
    guess = np.where(within, (kink - low) / np.where(within, high - low, 1.0), 0.0) * width
    if spring.straight:
        return guess
    side = np.sign(high - low)

    def past(d: Array) -> tuple[Array, Array]:
        load, slope = spring.past(j, d)
        return side * (load - kink), side * slope

    return bracketed_root(past, 0.0 * width, np.where(within, width, 0.0), guess)


def _fill(spring: Spring, hydraulics: Hydraulics) -> Way:
    pressure = hydraulics.pressure(spring.load)
    width = np.append(np.diff(spring.travel, axis=0), np.full_like(spring.travel[:1], np.inf), axis=0)
    ends = np.append(pressure[1:], hydraulics.pressure(spring.past(-1, np.asarray(1.0))[0])[None] + 0.0 * pressure[-1:], axis=0)
    # a knot at a kink may carry a rounding error of pressure; a piece is pressed only if more than that is at one end
    noise = 1e-9 * (np.abs(hydraulics.offset) + 1.0)
    gain = np.where(np.maximum(pressure, ends) > noise, hydraulics.gain, 0.0)
    volume = hydraulics.volume(spring.travel, spring.load)
    return Way(spring, hydraulics, gain, pressure, volume, running(np.maximum, volume), width, None)


def _turns_back(way: Way) -> Mask:
    """On which pieces of which kits the fluid taken may turn back."""
    steepest = _steepest_fall(way.spring, way.width)
    lowest = np.minimum(way.pressure, np.append(way.pressure[1:], way.pressure[-1:], axis=0))
    return np.asarray(way.hydraulics.rise(steepest, way.gain * steepest, lowest) < 0.0)


def _steepest_fall(spring: Spring, width: Array) -> Array:
    """Steepest fall of the load on each piece [N/m], at most 0."""
    if spring.straight:
        return np.minimum(spring.first, 0.0)
    # a metre past the last knot of a diaphragm its load has long risen again
    end = np.where(np.isfinite(width), width, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        bend = np.clip(np.where(spring.third != 0.0, -spring.second / (3.0 * spring.third), 0.0), 0.0, end)
    ends = spring.past(slice(None), end)[1]
    return np.minimum(np.minimum(np.minimum(spring.first, ends), spring.past(slice(None), bend)[1]), 0.0)


def _with_jumps(way: Way, back: Mask) -> Way:
    """Cut each piece into what is jumped over, what is passed, and what starts the next jump; the last only into two.

    In a kit that does not turn back there all new knots lie on the start of the piece, so that it does not feel, even in its
    last digits, that the fingers of another kit jump.
    """
    peak = way.volume[0]
    places: list[Array] = []
    skipped: list[Mask | bool] = []
    last = len(way.travel) - 1
    for j in range(last + 1):
        land, turn = _piece_jump(way, j, peak, j == last)
        places += [way.travel[j] + 0.0 * peak, way.travel[j] + land]
        skipped += [True, False]
        if j < last:
            top = np.where(back[j], np.where(turn > land, _volume_past(way, j, turn), peak), way.volume[j + 1])
            peak = np.maximum(peak, top)
            places.append(way.travel[j] + np.where(back[j], turn, land))
            skipped.append(back[j])
    owner = np.arange(len(places)) // 3
    laid = _fill(way.spring.cut(np.stack(np.broadcast_arrays(*places)), owner), way.hydraulics)
    shape = laid.volume.shape
    over = np.stack([np.broadcast_to(some, shape[1:]) for some in skipped])
    return replace(laid, gain=way.gain[owner] + 0.0 * laid.gain, skipped=over)


def _piece_jump(way: Way, j: int, peak: Array, last: bool) -> tuple[Array, Array]:
    """How far into piece `j` the fingers land, and how far in the fluid taken turns back; both cut to the piece."""
    width = way.width[j]
    behind = np.maximum(peak - way.volume[j], 0.0)
    land = np.where(
        behind > 0.0, np.minimum(step_past(way.hydraulics, way.spring.first[j], way.gain[j], way.pressure[j], behind), width), 0.0
    )
    if last:
        return (land, land) if way.spring.straight else (_last_landing(way, peak, behind),) * 2
    turn = _turn_in(way, j)
    if not way.spring.straight:
        land, turn = _exact_jump(way, j, peak, land)
    return land, np.maximum(land, turn)


def _turn_in(way: Way, j: int) -> Array:
    """Travel past knot `j` at which the fluid taken is largest on a straight piece."""
    h, slope, width, pressure = way.hydraulics, way.spring.first[j], way.width[j], way.pressure[j]
    rate = way.gain[j] * slope
    straight = h.sweep * (1.0 + h.give * slope) + h.compliance * rate
    with np.errstate(divide="ignore", invalid="ignore"):
        peak_pressure = np.sqrt(h.air * h.ambient * -rate / straight) - h.ambient
        inside = np.clip((peak_pressure - pressure) / rate, 0.0, width)
    inside = np.where(straight > 0.0, inside, 0.0)
    return np.where(rate < 0.0, inside, np.where(straight >= 0.0, width, 0.0))


def _volume_past(way: Way, j: int, past: Array) -> Array:
    return way.hydraulics.volume(way.travel[j] + past, way.spring.past(j, past)[0])


def _exact_jump(way: Way, j: int, peak: Array, guess: Array) -> tuple[Array, Array]:
    """The same two places on a diaphragm's own equation, by roots inside the piece."""
    width = way.width[j]

    def bend(d: Array) -> tuple[Array, None]:
        return -_rise_past(way, j, d), None

    none = np.zeros_like(peak + width)
    start, end = _rise_past(way, j, none), _rise_past(way, j, width + none)
    turns = (start > 0.0) & (end < 0.0)
    within = bracketed_root(bend, none, np.where(turns, width, 0.0), 0.5 * width)
    turn = np.where(turns, within, np.where(start > 0.0, width, 0.0))
    reached_here = _volume_past(way, j, turn) >= peak
    behind = peak > way.volume[j]
    crosses = behind & reached_here

    def crossing(d: Array) -> tuple[Array, Array]:
        return _volume_past(way, j, d) - peak, _rise_past(way, j, d)

    found = bracketed_root(crossing, none, np.where(crosses, turn, 0.0), np.minimum(guess, turn))
    return np.where(behind, np.where(reached_here, found, width), 0.0), turn


def _last_landing(way: Way, peak: Array, behind: Array) -> Array:
    """How far past the last knot of a diaphragm, where its load only rises, the fingers land."""
    widest = behind / way.hydraulics.sweep * (1.0 + 1e-9)

    def crossing(d: Array) -> tuple[Array, Array]:
        return _volume_past(way, -1, d) - peak, _rise_past(way, -1, d)

    return bracketed_root(crossing, 0.0 * widest, widest, 0.5 * widest)


def _rise_past(way: Way, j: int, d: Array) -> Array:
    load, slope = way.spring.past(j, d)
    return way.hydraulics.rise(slope, way.gain[j] * slope, way.hydraulics.pressure(load))
