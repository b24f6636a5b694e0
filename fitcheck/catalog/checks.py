"""What the fields of one entry owe each other: order, curves that run as they must, pieces that meet."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from itertools import pairwise
from typing import Any

from fitcheck.catalog.schema import Fault, Path

Values = Mapping[str, Any]  # of one entry, in SI; what could not be converted is not there
Check = Callable[[Values], Iterator[Fault]]

_SLACK = 1e-9  # relative: the same length written in two units

# The first field lies below the second, or at most at it.
_ORDER: dict[str, tuple[tuple[str, str, str], ...]] = {
    "master": (("cutoff_stroke", "<", "stroke"),),
    "slave": (("rod_min", "<=", "rod_max"), ("cavity.bleed_offset", "<=", "cavity.length")),
    "concentric": (("inner_diameter", "<", "outer_diameter"), ("cavity.bleed_offset", "<=", "cavity.length")),
    "disc": (("inner_diameter", "<", "outer_diameter"),),
    "pressure_plate": (
        ("finger_circle.0", "<", "finger_circle.1"),
        ("diaphragm.inner_radius", "<", "diaphragm.outer_radius"),
        ("diaphragm.tip_radius", "<", "diaphragm.pivot_radius"),
        ("diaphragm.tip_radius", "<", "diaphragm.load_radius"),
    ),
    "pedal": (("stop_range.0", "<=", "stop_range.1"),),
}

# Curves: the field, its rising key, its other key.
_CURVES: dict[str, tuple[tuple[str, str, str], ...]] = {
    "pedal": (("return_force", "travel", "force"),),
    "fluid": (("viscosity", "temperature", "kinematic"),),
    "pressure_plate": (("release_load", "travel", "load"), ("worn_release_load", "travel", "load")),
    "disc": (("cushion_curve", "travel", "clamp"),),
}


def checks(family: str, values: Values) -> Iterator[Fault]:
    """All faults and cautions of one entry's fields against each other."""
    for low, sign, high in _ORDER.get(family, ()):
        yield from _order(values, low, sign, high)
    for name, rising, other in _CURVES.get(family, ()):
        yield from _curve(values, name, rising, other)
    for check in _OWN.get(family, ()):
        yield from check(values)


def _at(values: Values, path: Path) -> Any:
    """The value at a path, or None."""
    here: Any = values
    for step in path:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return None
    return here


@cache
def _steps(name: str) -> Path:
    return tuple(int(step) if step.isdigit() else step for step in name.split("."))


def _words(path: Path) -> str:
    """A field for a reader: `cavity.length`, `first of finger_circle`."""
    if isinstance(path[-1], int):
        return f"the {('first', 'second')[path[-1]]} of {path[0]}"
    return ".".join(map(str, path))


def _order(values: Values, low: str, sign: str, high: str) -> Iterator[Fault]:
    lower, upper = _steps(low), _steps(high)
    least, greatest = _at(values, lower), _at(values, upper)
    if least is None or greatest is None:
        return
    if not (least < greatest or (sign == "<=" and least <= greatest * (1 + _SLACK))):
        relation = "below" if sign == "<" else "at most"
        found = f"{_words(lower)} {'at or above' if sign == '<' else 'above'} {_words(upper)}"
        yield Fault(
            lower,
            "order",
            found,
            f"{_words(lower)} {relation} {_words(upper)}",
            f"check both {_words(lower)} and {_words(upper)}",
        )


def _curve(values: Values, name: str, rising: str, other: str) -> Iterator[Fault]:
    """Equal lengths, and a first key that rises strictly."""
    first, second = _at(values, (name, rising)), _at(values, (name, other))
    if first is not None and second is not None and len(first) != len(second):
        found = f"{len(first)} values of {rising} and {len(second)} of {other}"
        yield Fault(
            (name, other),
            "unequal-lists",
            found,
            "as many of one as of the other",
            "add or leave out values until each has its partner",
        )
    for at, (before, after) in enumerate(pairwise(first or ()), 1):
        if not after > before:
            wanted = f"{rising} that rises from value to value"
            yield Fault(
                (name, rising, at),
                "not-rising",
                "a value not above the one before it",
                wanted,
                "put the points in order, each once",
            )


def _load_curves(values: Values) -> Iterator[Fault]:
    """A load curve starts at (0, 0) and reaches the cover's greatest travel."""
    for name in ("release_load", "worn_release_load"):
        travel, load, reach = _at(values, (name, "travel")), _at(values, (name, "load")), values.get("max_travel")
        for key, row in (("travel", travel), ("load", load)):
            if row and row[0] != 0.0:
                yield Fault(
                    (name, key, 0),
                    "curve-start",
                    f"a curve whose {key} starts away from 0",
                    "a first point of no travel and no load",
                    "begin both lists with 0",
                )
        if travel and reach is not None and not travel[-1] >= reach * (1 - _SLACK):
            yield Fault(
                (name, "travel"),
                "curve-end",
                "a curve that ends before max_travel",
                "travel up to max_travel or beyond",
                "add the points up to max_travel",
            )


def _diaphragm(values: Values) -> Iterator[Fault]:
    """The lever of a diaphragm: it needs an arm, and the pivot on the side that the action asks for."""
    load, pivot = _at(values, ("diaphragm", "load_radius")), _at(values, ("diaphragm", "pivot_radius"))
    if load is None or pivot is None:
        return
    path: Path = ("diaphragm", "pivot_radius")
    if load == pivot:
        yield Fault(
            path, "no-lever", "pivot_radius equal to load_radius", "two circles apart from each other", "check both radii"
        )
    elif values.get("action") in ("push", "pull") and (load > pivot) != (values["action"] == "push"):
        side = "inside" if values["action"] == "push" else "outside"
        found = f"a {values['action']} cover that pivots {'outside' if side == 'inside' else 'inside'} its load circle"
        mend = "check the action and both radii: as they stand the fingers would press the plate on"
        yield Fault(path, "lever-side", found, f"a pivot {side} the load circle", mend, severity="caution")


def _pieces(values: Values) -> Iterator[Fault]:
    """Each outlet meets the next inlet, and there is something for the fluid to flow through."""
    pieces: Sequence[Values] = values.get("pieces") or ()
    for at, (before, after) in enumerate(pairwise(pieces), 1):
        outlet, inlet = before.get("outlet"), after.get("inlet")
        if outlet is not None and inlet is not None and (outlet != inlet or "none" in (outlet, inlet)):
            found = f'the inlet "{inlet}" after the outlet "{outlet}"'
            yield Fault(
                ("pieces", at, "inlet"),
                "pieces-apart",
                found,
                f'the inlet "{outlet}"',
                "turn the piece round, change it, or put an adapter between",
            )
    if pieces and all(piece.get("kind") == "adapter" for piece in pieces):
        yield Fault(("pieces",), "no-line", "adapters alone", "a tube or a hose among the pieces", "add the tube or hose")


def _cushion(values: Values) -> Iterator[Fault]:
    """Shares of travel from 0 to 1, shares of clamp from 1 to 0 that never rise."""
    for key, start, end in (("travel", 0.0, 1.0), ("clamp", 1.0, 0.0)):
        row = _at(values, ("cushion_curve", key))
        if row and (row[0], row[-1]) != (start, end):
            wanted = f"{key} from {start:g} to {end:g}"
            yield Fault(
                ("cushion_curve", key),
                "curve-ends",
                f"{key} from {row[0]:g} to {row[-1]:g}",
                wanted,
                "write shares, with the first and the last point",
            )
    for at, (before, after) in enumerate(pairwise(_at(values, ("cushion_curve", "clamp")) or ()), 1):
        if not after <= before:
            wanted = "clamp that never rises as the cushion opens"
            yield Fault(
                ("cushion_curve", "clamp", at),
                "rising",
                "a share of clamp above the one before it",
                wanted,
                "check the order of the points",
            )


def _fluid(values: Values) -> Iterator[Fault]:
    """Cautions: a fluid that thickens as it warms, and water that raises a boiling point."""
    for at, (before, after) in enumerate(pairwise(_at(values, ("viscosity", "kinematic")) or ()), 1):
        if not after < before:
            wanted = "a viscosity that falls as the temperature rises"
            yield Fault(
                ("viscosity", "kinematic", at),
                "not-falling",
                "a viscosity not below the one before it",
                wanted,
                "check the points",
                severity="caution",
            )
    dry, wet = values.get("dry_boil"), values.get("wet_boil")
    if dry is not None and wet is not None and wet > dry:
        found, wanted = "wet_boil above dry_boil", "wet_boil at most dry_boil"
        yield Fault(("wet_boil",), "order", found, wanted, "check that the two are not swapped", severity="caution")


_OWN: dict[str, tuple[Check, ...]] = {
    "pressure_plate": (_load_curves, _diaphragm),
    "line": (_pieces,),
    "disc": (_cushion,),
    "fluid": (_fluid,),
}
