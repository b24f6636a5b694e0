"""Text with a unit to SI and back: a small strict grammar and a closed list of units.

    quantity  = number unit [("+/-" | "±") unsigned unit]      "36 mm +/- 0.2 mm"; pure numbers leave the units out
    number    = ["+" | "-"] unsigned
    unsigned  = decimal [exponent] | fraction | whole ("-" | " ") fraction      "1.5e-3", "3/4", "1-1/16"

Numbers are kept as ratios of integers and the factors of the units are rational, so a value is rounded once, at the end:
"3/4 in" and "19.05 mm" are the same float.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from math import atan
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from fitcheck.errors import FitcheckError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = TypeVar("Numbers", float, NDArray[np.float64])
else:
    Numbers = TypeVar("Numbers")

LONGEST = 64  # characters; longer text is refused before it is looked at

UNITS: dict[str, tuple[str, ...]] = {
    "length": ("mm", "cm", "m", "um", "in", "ft", "thou"),
    "area": ("mm2", "cm2", "m2", "in2"),
    "volume": ("mL", "cc", "L", "mm3", "cm3", "m3", "in3"),
    "angle": ("deg", "rad"),
    "slope": ("deg", "rad", "%"),
    "force": ("N", "kN", "kgf", "lbf"),
    "pressure": ("bar", "Pa", "kPa", "MPa", "GPa", "psi", "ksi"),
    "energy": ("J", "kJ"),
    "torque": ("N m", "kN m", "kgf m", "lbf ft", "lbf in"),
    "stiffness": ("N/mm", "N/m", "kN/mm", "kgf/mm", "lbf/in"),
    "time": ("s", "min", "h"),
    "mass": ("kg", "g", "lb"),
    "speed": ("rpm", "rad/s"),
    "temperature": ("degC", "degF", "K"),
    "temperature_difference": ("K",),
    "ratio": ("",),
    "share": ("", "%"),
    "density": ("kg/m3", "kg/L", "g/mL"),
    "kinematic_viscosity": ("mm2/s", "cSt", "m2/s"),
    "line_expansion": ("mL/m", "cc/m", "cc/ft", "mL/ft"),
    "thermal_expansion": ("1/K",),
    "money": ("",),
}

_PHRASES = {
    "area": "an area",
    "angle": "an angle",
    "energy": "an energy",
    "speed": "a speed of rotation",
    "temperature_difference": "a difference of temperatures",
    "kinematic_viscosity": "a kinematic viscosity",
    "line_expansion": "a volume per length",
    "thermal_expansion": "an expansion per kelvin",
    "ratio": "a pure number",
    "money": "a sum of money",
}

_EXAMPLES = {
    "length": "36 mm +/- 0.2 mm",
    "slope": "20 %",
    "temperature": "-40 degC",
    "ratio": "6 +/- 0.1",
    "share": "0.9",
    "thermal_expansion": "0.0005 1/K",
    "money": "12.50",
}

# A tolerance is a half-width: a difference of temperatures, and an angle where the slope itself may be a percentage.
_HALF_WIDTH = {"temperature": "temperature_difference", "slope": "angle"}

# Other ways in which people write a unit of the list, of exactly the same size.
_OTHER_SPELLINGS = {
    "in": ('"', "''", "\u201d", "\u2033", "inch", "inches"),
    "ft": ("'", "\u2032", "foot", "feet"),
    "thou": ("mil", "mils"),
    "um": ("\u00b5m", "\u03bcm", "micron", "microns"),
    "mm2": ("mm\u00b2", "mm^2"),
    "mL": ("ml",),
    "cc": ("ccm",),
    "L": ("l", "liter", "litre"),
    "cm3": ("cm\u00b3", "cm^3"),
    "in3": ("in\u00b3", "in^3", "cu in"),
    "deg": ("\u00b0", "degree", "degrees"),
    "kgf": ("kp", "kg"),
    "lbf": ("lb", "lbs"),
    "lb": ("lbs", "pound", "pounds"),
    "MPa": ("N/mm2", "N/mm\u00b2"),
    "N m": ("Nm", "N\u00b7m", "N*m", "N-m"),
    "kgf m": ("kg m", "kgm", "mkg"),
    "lbf ft": ("ft lb", "ft-lb", "ft lbf", "lb ft", "lb-ft"),
    "lbf in": ("in lb", "in-lb", "lb in", "lb-in"),
    "lbf/in": ("lb/in",),
    "min": ("minute", "minutes"),
    "h": ("hr", "hrs", "hour", "hours"),
    "s": ("sec", "second", "seconds"),
    "rpm": ("1/min", "r/min", "rev/min"),
    "degC": ("\u00b0C", "C"),
    "degF": ("\u00b0F", "F"),
    "K": ("\u00b0K", "kelvin", "degC"),
    "%": ("percent", "per cent"),
    "kg/m3": ("kg/m\u00b3",),
    "g/mL": ("g/ml", "g/cm3", "g/cc"),
    "mm2/s": ("mm\u00b2/s",),
    "1/K": ("/K", "1/degC"),
}

_UNSIGNED = r"(?:[0-9]+[- ])?[0-9]+/[0-9]+|(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_UNIT = r" *[A-Za-z%]+[0-9]?(?:[ /][A-Za-z]+[0-9]?)?| +1/K"  # a blank before 1/K, or "51/K" could be read as 5 of it
_QUANTITY = re.compile(rf"([-+]?)({_UNSIGNED})({_UNIT})?(?: *(?:\+/-|±) *({_UNSIGNED})({_UNIT})?)?")
_LOOSE = re.compile(rf"[-+]?({_UNSIGNED})?([^±+]*)(?:(?:\+/-|±) *({_UNSIGNED})?(.*))?")

_SLIPS: tuple[tuple[re.Pattern[str], str, str], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), problem, mend)
    for pattern, problem, mend in (
        (r"\A\s*\Z", "no-number", "write a number"),
        (r"\A\s|\s\Z|[^\S ]", "stray-blank", "leave out blanks before and after, and use no tabs or line breaks"),
        (r"\b(?:nan|inf|infinity)\b", "not-finite", "write a finite number, or leave the key out where the value is not known"),
        (r"[0-9],[0-9]{3}(?![0-9])", "comma", "write a decimal point, and no sign between thousands: 1.25 or 1250, never 1,250"),
        (r",[0-9]", "comma", "write a decimal point in place of the comma: 12.7, not 12,7"),
        (
            r"[0-9](?:[_'\u2019]| (?=[0-9]{3}(?![0-9/])))[0-9]",
            "thousands",
            "write the digits without anything between them: 1250",
        ),
        (r"[\u2010-\u2015\u2212]", "dash", "write the sign as the plain hyphen of the keyboard, -"),
        (r"[0-9]/0+(?![0-9])", "zero-denominator", "a fraction needs a denominator above 0, as in 3/4"),
        (r"(?:\+/-|±) *[-+]", "signed-tolerance", "a tolerance is a half-width, 0 or more: leave out its sign"),
        (r"\+ *-|\+ +/|/ +-|-/\+", "tolerance-sign", "write the tolerance after +/- or ±"),
        (r"[0-9)] *[*^(]|\A\(", "expression", "write the result: nothing is calculated here"),
        (r"(?:\+/-|±).*(?:\+/-|±)", "second-tolerance", "write one tolerance, the half-width on either side"),
        (r"[0-9] *\+ *[0-9]|[0-9] +- *[0-9]|[0-9]- +[0-9]", "expression", "write one number (a mixed fraction: 1-1/16)"),
        (r"[0-9]-[0-9]+(?![0-9/])", "expression", "write one number (a range is written as a value +/- its half-width)"),
        (
            r"[0-9]/[0-9]+/|\.[0-9]+ */ *[0-9]|[0-9]/[0-9]*\.",
            "expression",
            "write a decimal number, or a fraction of two whole numbers",
        ),
        (r"[0-9]\.(?![0-9])", "decimal-point", "write a digit after the decimal point, or leave the point out"),
        (r"[0-9]e[+-]?[0-9]{4}", "out-of-range", "write one number between 1e-300 and 1e300, and its unit"),
    )
)


class QuantityError(FitcheckError):
    """Text that is no quantity of the dimension asked for: what was found, what was expected, how to mend it."""

    def __init__(self, found: str, expected: str, mend: str, problem: str = "bad-quantity") -> None:
        """Keep the three sentences and the short word for the kind of mistake."""
        super().__init__(f"found {found}; expected {expected}; {mend}")
        self.found = found
        self.expected = expected
        self.mend = mend
        self.problem = problem


class Quantity(NamedTuple):
    """A value in SI and, where one was written, the half-width of its tolerance in SI."""

    value: float
    tolerance: float | None = None


class _Scale(NamedTuple):
    """SI value of `v` units: `(v top + offset) / bottom`, all whole numbers."""

    top: int
    bottom: int
    offset: int


# SI values of the units, exact by definition (NIST SP 811, 2008, appendix B.8); the tests hold each against a general library.
# Those of the last line are only shown: no field is written in them.
_FACTORS = """
mm = 1/1000; cm = 1/100; m = 1; um = 1/1000000; in = 127/5000; ft = 381/1250; thou = 127/5000000
mm2 = 1/1000000; cm2 = 1/10000; m2 = 1; in2 = 16129/25000000
mL = 1/1000000; cc = 1/1000000; L = 1/1000; mm3 = 1/1000000000; cm3 = 1/1000000; m3 = 1; in3 = 2048383/125000000000
rad = 1
% = 1/100
N = 1; kN = 1000; kgf = 196133/20000; lbf = 8896443230521/2000000000000
bar = 100000; Pa = 1; kPa = 1000; MPa = 1000000; GPa = 1000000000; psi = 8896443230521/1290320000; ksi = 8896443230521/1290320
J = 1; kJ = 1000
N m = 1; kN m = 1000; kgf m = 196133/20000
lbf ft = 3389544870828501/2500000000000000; lbf in = 1129848290276167/10000000000000000
N/mm = 1000; N/m = 1; kN/mm = 1000000; kgf/mm = 196133/20; lbf/in = 8896443230521/50800000000
s = 1; min = 60; h = 3600
kg = 1; g = 1/1000; lb = 45359237/100000000
rad/s = 1
K = 1
kg/m3 = 1; kg/L = 1000; g/mL = 1000
mm2/s = 1/1000000; cSt = 1/1000000; m2/s = 1
mL/m = 1/1000000; cc/m = 1/1000000; cc/ft = 1/304800; mL/ft = 1/304800
1/K = 1
mm/kN = 1/1000000; mL/bar = 1/100000000000; bar/kN = 100; N/bar = 1/100000; mPa s = 1/1000
"""
_PI = 31415926535897932384626433832795028841971693993751  # over 1e49, cut after fifty digits


def _scales() -> Iterator[tuple[str, _Scale]]:
    """Every unit of the list; temperatures have an offset, angles are as exact as pi."""
    for written in _FACTORS.replace("\n", ";").split(";"):
        unit, _, factor = written.partition("=")
        top, _, bottom = factor.partition("/")
        if unit.strip():
            yield unit.strip(), _Scale(int(top), int(bottom or 1), 0)
    yield from {"": _Scale(1, 1, 0), "degC": _Scale(20, 20, 5463), "degF": _Scale(100, 180, 45967)}.items()
    yield from {"deg": _Scale(_PI, 180 * 10**49, 0), "rpm": _Scale(_PI, 30 * 10**49, 0)}.items()


_SCALES = dict(_scales())


def parse(text: str, dimension: str) -> Quantity:
    """Read one quantity of a dimension of `UNITS`; QuantityError says what is wrong with it and how to mend it."""
    match = _QUANTITY.fullmatch(text) if len(text) <= LONGEST else None
    if match is None:
        raise _explained(text, dimension)
    sign, number, unit, half, half_unit = match.groups("")
    try:
        value = _in_si(sign + number, unit, dimension)
        return Quantity(value, _in_si(half, half_unit, _HALF_WIDTH.get(dimension, dimension)) if half else None)
    except ArithmeticError:  # a unit out of place, an impossible fraction, or more than a float can hold
        raise _explained(text, dimension) from None


def to_unit(values: Numbers, unit: str) -> Numbers:
    """SI values (a float or an array) in a unit of the list; `%` is a share."""
    scale = _scale(unit)
    return (values * float(scale.bottom) - float(scale.offset)) / float(scale.top)


def from_unit(values: Numbers, unit: str) -> Numbers:
    """Values in a unit of the list (a float or an array) in SI; `%` is a share."""
    scale = _scale(unit)
    return (values * float(scale.top) + float(scale.offset)) / float(scale.bottom)


def phrase(dimension: str) -> str:
    """The dimension in words, with its article: `a length`."""
    return _PHRASES.get(dimension) or f"a {dimension}"


def describe(dimension: str) -> str:
    """What a reader should have written: `a length in mm, cm, ... such as "36 mm +/- 0.2 mm"`."""
    units = [unit for unit in UNITS[dimension] if unit]
    example = _EXAMPLES.get(dimension) or f"12 {units[0]}"
    choice = f" in {', '.join(units)}" if units else ""
    bare = " or without a unit" if units and "" in UNITS[dimension] else ""
    return f'{phrase(dimension)}{choice}{bare}, such as "{example}"'


def quoted(text: str, most: int = LONGEST) -> str:
    """Text from outside between quotes, cut to a length, with everything unprintable spelled out."""
    shown = "".join(letter if letter.isprintable() else letter.encode("unicode_escape").decode() for letter in text[:most])
    return f'"{shown}"' if len(text) <= most else f'"{shown}..." ({len(text)} characters)'


def _in_si(number: str, unit: str, dimension: str) -> float:
    """One number with its unit in SI, rounded once; ArithmeticError where the pair means nothing."""
    unit = unit.strip()
    if unit not in UNITS[dimension]:
        raise ArithmeticError
    top, bottom = _ratio(number)
    scale = _scale(unit)
    value = (top * scale.top + bottom * scale.offset) / (bottom * scale.bottom)
    if (value == 0.0 and top != 0 and scale.offset == 0) or (dimension == "temperature" and value < 0.0):
        raise ArithmeticError
    return atan(value) if dimension == "slope" and unit == "%" else value


def _ratio(number: str) -> tuple[int, int]:
    """A number of the grammar as numerator and denominator, without rounding; most are decimals."""
    whole, _, decimals = number.partition(".")
    if whole.isdigit() and (decimals.isdigit() or not decimals):
        return int(whole + decimals), 10 ** len(decimals)
    if number[0] in "+-":
        top, bottom = _ratio(number[1:])
        return (-top if number[0] == "-" else top), bottom
    if "/" in number:
        return _fraction(*map(int, re.split("[-/ ]", number)))
    mantissa, _, exponent = number.replace("E", "e").partition("e")
    whole, _, decimals = mantissa.partition(".")
    power = int(exponent or 0) - len(decimals)
    digits = int(whole + decimals)
    return (digits * 10**power, 1) if power >= 0 else (digits, 10**-power)


def _fraction(*parts: int) -> tuple[int, int]:
    """Top and bottom of `3/4` or `1-1/16`; 1-17/16 is a slip of the pen."""
    *whole, top, bottom = parts
    if whole and top >= bottom:
        raise ArithmeticError
    return sum(whole) * bottom + top, bottom


def _scale(unit: str) -> _Scale:
    """The unit's factor and offset as whole numbers over one denominator."""
    return _SCALES[unit]


def _explained(text: str, dimension: str) -> QuantityError:
    """The error for text that was refused; the first reason that fits is given."""
    problem, mend = _reason(text, dimension)
    return QuantityError(quoted(text), describe(dimension), mend, problem)


def _reason(text: str, dimension: str) -> tuple[str, str]:
    """The kind of mistake and how to mend it."""
    if len(text) > LONGEST:
        return "too-long", f"write at most {LONGEST} characters"
    for pattern, problem, mend in _SLIPS:
        if pattern.search(text):
            return problem, mend
    match = _LOOSE.fullmatch(text)
    if match is None or match[1] is None:
        return "no-number", "write a number first, then its unit" if UNITS[dimension] != ("",) else "write a number"
    fault = _unit_fault(match[2].strip(), dimension)
    if fault is None and match[4] is not None:
        fault = _tolerance_fault(match[3], match[4].strip(), dimension)
    return fault or _number_fault(text, dimension)


def _unit_fault(unit: str, dimension: str) -> tuple[str, str] | None:
    """What is wrong with a unit, if anything."""
    units = UNITS[dimension]
    if unit in units:
        return None
    if not unit:
        return "missing-unit", f"write the unit after the number: {_choice(units)}"
    if units == ("",):
        return "unit-on-pure-number", f"leave out {quoted(unit)}: this is a number without a unit"
    same = [name for name in units if unit in _OTHER_SPELLINGS.get(name, ())]
    owners = [name.replace("_", " ") for name, members in UNITS.items() if unit in members]
    if owners:
        return (
            "wrong-unit",
            f"{unit} is a unit of {' or '.join(owners)}, and {phrase(dimension)} is needed: write {_choice(same or units)}",
        )
    return "unknown-unit", f"{quoted(unit)} is not a unit of the list: write {_choice(same or _nearest(unit, units) or units)}"


def _nearest(unit: str, units: Sequence[str]) -> list[str]:
    """The units of the dimension whose letters come closest, whatever their case."""
    folded = {name.casefold(): name for name in units if name}
    return [folded[close] for close in get_close_matches(unit.casefold(), folded, n=3, cutoff=0.5)]


def _choice(units: Sequence[str]) -> str:
    """The units as `mm, cm or m`."""
    *others, last = [unit for unit in units if unit]
    return f"{', '.join(others)} or {last}" if others else last


def _tolerance_fault(number: str | None, unit: str, dimension: str) -> tuple[str, str] | None:
    """What is wrong with the part after +/-, if anything."""
    if number is None:
        return "bad-tolerance", "write a number after +/-"
    fault = _unit_fault(unit, _HALF_WIDTH.get(dimension, dimension))
    return fault and (fault[0], f"the tolerance carries its own unit: {fault[1]}")


def _number_fault(text: str, dimension: str) -> tuple[str, str]:
    """What is wrong with the number itself, the units being right."""
    if any(int(top) >= int(bottom) for top, bottom in re.findall("[0-9][- ]([0-9]+)/([0-9]+)", text)):
        return "improper-fraction", "the fraction after a whole number must be below 1, as in 1-1/16"
    if dimension == "temperature" and text.startswith("-"):
        return "out-of-range", "nothing is colder than -273.15 degC: check the number and its unit"
    return "out-of-range", "write one number between 1e-300 and 1e300, and its unit"
