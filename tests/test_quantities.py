"""Quantities: the grammar, exact factors, and every kind of refusal.

Outside values: exact by definition (international yard and pound of 1959, standard gravity of the 3rd CGPM of 1901, kelvin and
degree Celsius of the SI), as gathered in NIST Special Publication 811, appendix B.8; and the general library pint.
"""

from fractions import Fraction
from math import atan, degrees, inf, isfinite, nextafter, pi, radians

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.engine.table import METRICS
from fitcheck.quantities import LONGEST, UNITS, Quantity, QuantityError, describe, from_unit, parse, phrase, quoted, to_unit
from fitcheck.report.chain import SHOWN

# Our spelling in the words of pint, written down apart from the code; what is not here is spelled alike.
IN_PINT = {
    "in": "inch",
    "mm2": "millimeter**2",
    "cm2": "centimeter**2",
    "m2": "meter**2",
    "in2": "inch**2",
    "mm3": "millimeter**3",
    "cm3": "centimeter**3",
    "m3": "meter**3",
    "in3": "inch**3",
    "kgf": "kilogram_force",
    "lbf": "pound_force",
    "N m": "newton*meter",
    "kN m": "kilonewton*meter",
    "kgf m": "kilogram_force*meter",
    "lbf ft": "pound_force*foot",
    "lbf in": "pound_force*inch",
    "kgf/mm": "kilogram_force/millimeter",
    "lbf/in": "pound_force/inch",
    "degC": "degree_Celsius",
    "degF": "degree_Fahrenheit",
    "%": "percent",
    "": "dimensionless",
    "kg/m3": "kilogram/meter**3",
    "mm2/s": "millimeter**2/second",
    "m2/s": "meter**2/second",
    "1/m2": "1/meter**2",
    "m3/Pa": "meter**3/pascal",
    "m/N": "meter/newton",
    "Pa s": "pascal*second",
    "mPa s": "millipascal*second",
}
LINEAR = [
    (dimension, unit)
    for dimension, units in UNITS.items()
    for unit in units
    if dimension != "temperature" and (dimension, unit) != ("slope", "%")
]
REGISTRY = pint.UnitRegistry()
EXACT = pint.UnitRegistry(non_int_type=Fraction)


def in_pint(value, unit, registry=REGISTRY):
    return registry.Quantity(value, IN_PINT.get(unit, unit)).to_base_units().magnitude


# Exact by definition; NIST SP 811, appendix B.8.
@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("1 in", "length", 0.0254),
        ("1 ft", "length", 0.3048),
        ("1 thou", "length", 2.54e-5),
        ("1 in2", "area", 6.4516e-4),
        ("1 in3", "volume", 1.6387064e-5),
        ("1 mL", "volume", 1e-6),
        ("1 cc", "volume", 1e-6),
        ("1 L", "volume", 1e-3),
        ("1 lb", "mass", 0.45359237),
        ("1 kgf", "force", 9.80665),
        ("1 lbf", "force", 4.4482216152605),
        ("1 bar", "pressure", 1e5),
        ("1 lbf in", "torque", 0.1129848290276167),
        ("1 lbf ft", "torque", 1.3558179483314004),
        ("1 cSt", "kinematic_viscosity", 1e-6),
        ("1 h", "time", 3600.0),
        ("0 degC", "temperature", 273.15),
        ("32 degF", "temperature", 273.15),
        ("212 degF", "temperature", 373.15),
        ("-459.67 degF", "temperature", 0.0),
        ("60 rpm", "speed", 2 * pi),
        ("180 deg", "angle", pi),
    ],
)
def test_exact_factors(text, dimension, value):
    assert parse(text, dimension).value == pytest.approx(value, rel=3e-16, abs=0)


# NIST SP 811, appendix B.8, to the digits printed there (read second-hand).
@pytest.mark.parametrize(
    ("text", "dimension", "value", "digits"),
    [
        ("1 psi", "pressure", 6.894757e3, 7),
        ("1 lbf", "force", 4.448222, 7),
        ("1 lbf ft", "torque", 1.355818, 7),
        ("1 lbf/in", "stiffness", 175.1268, 7),
        ("1000 psi", "pressure", 6.894757e6, 7),
        ("1 cc/ft", "line_expansion", 3.280840e-6, 7),
        # 49 CFR 571.106, S5.3.2, table I, low expansion, 1/8 in, as a test report gives it in cc/m (second-hand)
        ("0.33 cc/ft", "line_expansion", 1.08e-6, 3),
        ("0.42 cc/ft", "line_expansion", 1.38e-6, 3),
        ("0.61 cc/ft", "line_expansion", 2.00e-6, 3),
    ],
)
def test_printed_factors(text, dimension, value, digits):
    assert float(f"{parse(text, dimension).value:.{digits - 1}e}") == pytest.approx(value, rel=1e-12)


# Bores of the trade in mm, exact by 1 in = 25.4 mm.
@pytest.mark.parametrize(
    ("inches", "millimetres"),
    [
        ("5/8", "15.875"),
        ("11/16", "17.4625"),
        ("0.700", "17.78"),
        ("3/4", "19.05"),
        ("13/16", "20.6375"),
        ("7/8", "22.225"),
        ("15/16", "23.8125"),
        ("1", "25.4"),
        ("1-1/16", "26.9875"),
        ("1 1/16", "26.9875"),
        ("1-1/8", "28.575"),
    ],
)
def test_bores_are_the_same_float_in_either_unit(inches, millimetres):
    assert (
        parse(f"{inches} in", "length") == parse(f"{millimetres} mm", "length") == Quantity(float(Fraction(millimetres) / 1000))
    )


# A grade in percent is the tangent of its angle (trigonometry; figures to four decimals of a degree).
@pytest.mark.parametrize(("text", "angle"), [("12 %", 6.8428), ("20 %", 11.3099), ("30 %", 16.6992), ("12 deg", 12.0)])
def test_slope(text, angle):
    assert degrees(parse(text, "slope").value) == pytest.approx(angle, abs=5e-5)
    assert parse("20 %", "slope").value == atan(0.2)
    assert parse("20 %", "share").value == 0.2


@pytest.mark.parametrize(
    ("text", "dimension", "quantity"),
    [
        ("36 mm +/- 0.2 mm", "length", (0.036, 0.0002)),
        ("36 mm ± 0.2 mm", "length", (0.036, 0.0002)),
        ("36mm+/-0.2mm", "length", (0.036, 0.0002)),
        ("1 in +/- 5 thou", "length", (0.0254, 0.000127)),
        ("6 +/- 0.1", "ratio", (6.0, 0.1)),
        ("6", "ratio", (6.0, None)),
        ("90 % +/- 2 %", "share", (0.9, 0.02)),
        ("20 degC +/- 2 K", "temperature", (293.15, 2.0)),
        ("20 % +/- 1 deg", "slope", (atan(0.2), radians(1))),
        ("-1.5e-3 m", "length", (-0.0015, None)),
        ("+.5E1 m", "length", (5.0, None)),
        ("-1-1/2 in", "length", (-0.0381, None)),
        ("0 mm +/- 0 mm", "length", (0.0, 0.0)),
        ("0.0005 1/K", "thermal_expansion", (0.0005, None)),
        ("5 1/2 lbf ft", "torque", (5.5 * 1.3558179483314004, None)),
        ("12.50", "money", (12.5, None)),
    ],
)
def test_grammar(text, dimension, quantity):
    value, tolerance = quantity
    parsed = parse(text, dimension)
    assert parsed.value == pytest.approx(value, rel=3e-16, abs=0)
    assert parsed.tolerance == (None if tolerance is None else pytest.approx(tolerance, rel=3e-16, abs=0))


REFUSED = [
    ("12,7 mm", "length", "comma", "12.7, not 12,7"),
    (",7 mm", "length", "comma", "decimal point"),
    ("1,000 mm", "length", "comma", "between thousands"),
    ("1 000 mm", "length", "thousands", "without anything between"),
    ("1'000 mm", "length", "thousands", "without anything between"),
    ("1_000 mm", "length", "thousands", "without anything between"),
    ("36", "length", "missing-unit", "mm, cm, m, um, in, ft or thou"),
    ("36 +/- 0.2 mm", "length", "missing-unit", "after the number"),
    ("36 mm +/- 0.2", "length", "missing-unit", "the tolerance carries its own unit"),
    ("mm", "length", "no-number", "a number first"),
    ("", "length", "no-number", "write a number"),
    ("none", "ratio", "no-number", "write a number"),
    ("٣ mm", "length", "no-number", "a number first"),
    ("36 N", "length", "wrong-unit", "N is a unit of force, and a length is needed"),
    ("20 kg", "force", "wrong-unit", "write kgf"),
    ("10 lb", "force", "wrong-unit", "write lbf"),
    ("50 degC", "temperature_difference", "wrong-unit", "write K"),
    ("12 %", "angle", "wrong-unit", "slope or share"),
    ("36 mm +/- 5 %", "length", "wrong-unit", "the tolerance carries its own unit"),
    ("20 degC +/- 2 degC", "temperature", "wrong-unit", "write K"),
    ("20 % +/- 1 %", "slope", "wrong-unit", "deg or rad"),
    ("36 mn", "length", "unknown-unit", "mm"),
    ("5 MM", "length", "unknown-unit", "write mm"),
    ("5 mil", "length", "unknown-unit", "write thou"),
    ('3/4"', "length", "unknown-unit", "write in"),
    ("20 °C", "temperature", "unknown-unit", "write degC"),
    ("5 Nm", "torque", "unknown-unit", "write N m"),
    ("5 N*m", "torque", "unknown-unit", "write N m"),
    ("5 furlong", "mass", "unknown-unit", "kg, g or lb"),
    ("3 mm mm", "length", "unknown-unit", "mm mm"),
    ("51/K", "thermal_expansion", "unknown-unit", "write 1/K"),
    ("1e mm", "length", "unknown-unit", "mm"),
    ("0x10 mm", "length", "unknown-unit", "x10 mm"),
    ("6 mm", "ratio", "unit-on-pure-number", "leave out"),
    ("6 %", "ratio", "unit-on-pure-number", "leave out"),
    ("nan mm", "length", "not-finite", "finite"),
    ("-inf mm", "length", "not-finite", "finite"),
    ("Infinity", "ratio", "not-finite", "finite"),
    ("2*3 mm", "length", "expression", "nothing is calculated"),
    ("9**9**9 m", "length", "expression", "nothing is calculated"),
    ("9^9^7 m", "length", "expression", "nothing is calculated"),
    ("(3) mm", "length", "expression", "nothing is calculated"),
    ("1+1 mm", "length", "expression", "one number"),
    ("5 - 3 mm", "length", "expression", "one number"),
    ("30-35 mm", "length", "expression", "half-width"),
    ("1.5/2 in", "length", "expression", "two whole numbers"),
    ("1/2/3 in", "length", "expression", "two whole numbers"),
    ("1/2.5 in", "length", "expression", "two whole numbers"),
    ("1. mm", "length", "decimal-point", "a digit after"),
    ("3/0 in", "length", "zero-denominator", "above 0"),
    ("1-17/16 in", "length", "improper-fraction", "below 1"),
    ("36 mm +/- 1-2/2 mm", "length", "improper-fraction", "below 1"),
    ("1e999 mm", "length", "out-of-range", "1e300"),
    ("1e400 m", "length", "out-of-range", "1e300"),
    ("1e99999 mm", "length", "out-of-range", "1e300"),
    ("1e-400 m", "length", "out-of-range", "1e300"),
    ("1 mm +/- 1e-400 m", "length", "out-of-range", "1e300"),
    ("-300 degC", "temperature", "out-of-range", "colder"),
    ("36 mm +/- -0.2 mm", "length", "signed-tolerance", "leave out its sign"),
    ("36 mm +/- +0.2 mm", "length", "signed-tolerance", "leave out its sign"),
    ("36 mm +- 0.2 mm", "length", "tolerance-sign", "+/-"),
    ("36 mm +/-", "length", "bad-tolerance", "a number after"),
    ("36 mm ± mm", "length", "bad-tolerance", "a number after"),
    ("36 mm ± 1 mm ± 1 mm", "length", "second-tolerance", "one tolerance"),
    ("−5 mm", "length", "dash", "plain hyphen"),
    (" 36 mm", "length", "stray-blank", "blanks"),
    ("36\tmm", "length", "stray-blank", "blanks"),
    ("36 mm\n", "length", "stray-blank", "blanks"),
    ("36\u00a0mm", "length", "stray-blank", "blanks"),
    ("36 mm -", "length", "unknown-unit", "mm"),
    ("+36 mm + mm", "length", "no-number", "a number first"),
    ("1" * LONGEST + " mm", "length", "too-long", "64"),
    ("__import__('os')", "length", "no-number", "a number first"),
]


@pytest.mark.parametrize(("text", "dimension", "problem", "mend"), REFUSED)
def test_refused(text, dimension, problem, mend):
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension)
    error = caught.value
    assert (error.problem, mend in error.mend) == (problem, True), error
    assert error.expected == describe(dimension)
    assert error.found.startswith('"')
    assert error.found.isprintable()


@pytest.mark.parametrize(("dimension", "unit"), LINEAR)
def test_factor_against_pint(dimension, unit):
    assert parse(f"1 {unit}".strip(), dimension).value == pytest.approx(in_pint(1.0, unit), rel=1e-15)
    assert parse(f"1 {unit}".strip(), dimension).value == float(in_pint(Fraction(1), unit, EXACT))
    assert from_unit(7.0, unit) == pytest.approx(in_pint(7.0, unit), rel=1e-15)


@pytest.mark.parametrize("unit", UNITS["temperature"])
@pytest.mark.parametrize("degrees", [-40.0, 0.0, 20.0, 140.0])
def test_temperature_against_pint(unit, degrees):
    if unit == "K":
        degrees += 300
    assert parse(f"{degrees} {unit}", "temperature").value == pytest.approx(in_pint(degrees, unit), rel=1e-15)
    assert to_unit(from_unit(degrees, unit), unit) == pytest.approx(degrees, abs=1e-12)


def test_every_unit_has_the_dimension_it_is_listed_under():
    for dimension, units in UNITS.items():
        kinds = {REGISTRY.Quantity(1.0, IN_PINT.get(unit, unit)).dimensionality for unit in units if unit != "%"}
        assert len(kinds) == 1, dimension


@pytest.mark.parametrize(("unit", "shown"), SHOWN.items())
def test_what_is_only_shown_against_pint(unit, shown):
    """Quantities between given fields and metrics: the SI unit of their docstring, and the one in which a tree shows them."""
    si = {"-": "", "rad": "rad"}.get(unit, unit)
    one = in_pint(Fraction(1), shown, EXACT) / in_pint(Fraction(1), si, EXACT)
    assert from_unit(1.0, shown) == pytest.approx(float(one), rel=1e-15)
    assert REGISTRY.Quantity(1, IN_PINT.get(shown, shown)).check(REGISTRY.Quantity(1, IN_PINT.get(si, si)).dimensionality)


def test_every_metric_is_shown_in_a_unit_of_its_dimension():
    for metric in METRICS.values():
        assert metric.unit in UNITS[metric.dimension], metric.name
        assert isfinite(to_unit(1.0, metric.unit))


NUMBERS = st.one_of(
    st.decimals(-99999, 99999, places=4).map(str),
    st.builds("{}/{}".format, st.integers(0, 999), st.integers(1, 64)),
    st.builds("{}e{}".format, st.integers(-999, 999), st.integers(-9, 9)),
)


@given(NUMBERS, st.sampled_from(LINEAR))
def test_value_is_the_exact_product_rounded_once(number, where):
    dimension, unit = where
    exact = Fraction(number) * in_pint(Fraction(1), unit, EXACT)
    assert parse(f"{number} {unit}".strip(), dimension).value == float(exact)


@given(st.integers(0, 40), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]), st.sampled_from("- "))
def test_mixed_fraction_is_the_sum_of_its_parts(whole, top, bottom, joint):
    top %= bottom
    exact = (whole + Fraction(top, bottom)) * Fraction(254, 10000)
    assert parse(f"{whole}{joint}{top}/{bottom} in", "length").value == float(exact)


@given(st.floats(1e-6, 1e6), st.sampled_from(LINEAR))
def test_round_trip(value, where):
    dimension, unit = where
    there = parse(f"{value:.17g} {unit}".strip(), dimension).value
    assert to_unit(there, unit) == pytest.approx(value, rel=1e-15)
    assert from_unit(value, unit) == pytest.approx(there, rel=1e-15)


@given(st.floats(1e-3, 1e3), st.floats(0, 1e3))
def test_tolerance_is_read_as_a_value_of_its_own(value, half):
    quantity = parse(f"{value:.12g} mm +/- {half:.12g} thou", "length")
    assert quantity == (parse(f"{value:.12g} mm", "length").value, parse(f"{half:.12g} thou", "length").value)


@given(
    st.one_of(st.text(max_size=80), st.text("0123456789 -/.,eE+±mKNfinadeg%_*()", max_size=70)), st.sampled_from(sorted(UNITS))
)
def test_any_text_is_read_or_refused_with_a_hint(text, dimension):
    try:
        quantity = parse(text, dimension)
    except QuantityError as refusal:
        words = (refusal.found, refusal.expected, refusal.mend, refusal.problem)
    else:
        words = ("read",)
        assert isfinite(quantity.value)
        assert quantity.tolerance is None or 0 <= quantity.tolerance < inf
    assert all(words)


def test_arrays():
    values = np.array([[0.0254, 0.0], [np.nan, np.inf]])
    assert np.array_equal(to_unit(values, "in"), [[1.0, 0.0], [np.nan, np.inf]], equal_nan=True)
    assert np.array_equal(from_unit(np.array([20.0, -40.0]), "degC"), [293.15, 233.15])
    assert nextafter(to_unit(0.036, "mm"), 36.0) == 36.0


def test_words():
    assert describe("length") == 'a length in mm, cm, m, um, in, ft, thou, such as "36 mm +/- 0.2 mm"'
    assert describe("share") == 'a share in % or without a unit, such as "0.9"'
    assert describe("money") == 'a sum of money, such as "12.50"'
    assert phrase("kinematic_viscosity") == "a kinematic viscosity"
    assert quoted("a\x1b[31m\u202eb") == '"a\\x1b[31m\\u202eb"'
    assert quoted("ab", 1) == '"a..." (2 characters)'
    for dimension in UNITS:
        example = describe(dimension).rsplit('"', 2)[1]
        assert isfinite(parse(example, dimension).value)
