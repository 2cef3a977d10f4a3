"""Sums against Python's own fractions, and what is refused."""

import contextlib
import math
import time
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.designs.own.quantity import FormulaError, Quantity, quantity
from cutjob.designs.own.scope import Budget, PoisonError, Scope, Series
from cutjob.designs.own.spelling import read_formula
from cutjob.files.values import BadValue

SCOPE = Scope(
    names={"width": quantity(100, 1), "count_of": quantity(5), "kind": "star", "tall": True}, unit="in"
).with_names({"rail": Series("rail", (quantity(10, 1), quantity(20, 1), quantity(40, 1)))})
INCH = Fraction(254, 10)
# 15 digits of the sines of Python's math module, on values up to 1000.
NEAR = 1e-9


def value(text: str, scope: Scope = SCOPE) -> Quantity:
    found = scope.value(read_formula(text))
    assert isinstance(found, Quantity)
    return found


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("5/8 in", INCH * 5 / 8),
        ("1 1/8 in", INCH * 9 / 8),
        ('1 1/8"', INCH * 9 / 8),
        ("5 ft 6 in", INCH * 66),
        ("6 ft", INCH * 72),
        ("34.5 mm", Fraction(69, 2)),
        ("2 cm + 1.2 m", Fraction(1220)),
        ("3 * 5/8 in", INCH * 15 / 8),
        ("2 * width + 1/2 in", 200 + INCH / 2),
        ("width - 2 × 1 in", 100 - 2 * INCH),
        ("(width - 1 in) / 4", (100 - INCH) / 4),
        ("sqrt(width ^ 2)", Fraction(100)),
        ("diagonal(3 mm, 4 mm)", Fraction(5)),
        ("sin(30) * width", Fraction(50)),
        ("cos(60) * width", Fraction(50)),
        ("rail(0) + rail(2)", Fraction(50)),
        ("sum(rail)", Fraction(70)),
        ("max(rail, 30 mm)", Fraction(40)),
        ("count(rail) * 1 mm", Fraction(3)),
        ("round(width, 1/16 in)", INCH * 63 / 16),
        ("round_up(width, 1 in)", INCH * 4),
        ("round_down(width, 1 in)", INCH * 3),
        ("remainder(width, 30 mm)", Fraction(10)),
        ("choose(tall, 1 mm, 1 mm / 0)", Fraction(1)),
        ("choose(kind == 'disc', 1 mm, 2 mm)", Fraction(2)),
        ("abs(0 - width)", Fraction(100)),
        ("-width + +width", Fraction(0)),
    ],
)
def test_lengths_by_hand(text, mm):
    found = value(text)
    assert (found.value, found.power) == (mm, 1)


@pytest.mark.parametrize(
    ("raw", "mm"),
    [(16, 406.4), ("16", 406.4), ("1 1/8", 28.575), ("5/8", 15.875), (0.1, 2.54), ("-3", -76.2), (0, 0.0)],
)
def test_a_bare_number_is_in_the_files_unit(raw, mm):
    assert SCOPE.length(read_formula(raw)) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "yes"),
    [
        ("width > 3 in", True),
        ("width >= 100 mm and not tall", False),
        ("1 mm < width < 1 m", True),
        ("kind == 'star' or no", True),
        ("kind != 'star'", False),
        ("count_of == 5", True),
        ("sqrt(2) ^ 2 == 2", True),
        ("0 <= width", True),
    ],
)
def test_comparisons(text, yes):
    assert SCOPE.yes(read_formula(text)) is yes


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("width - 1/8", "give the number a unit"),
        ("width * width - width", "an area and a length"),
        ("1-1/8 in", "two ways"),
        ("width / 5/8 in", "put it in brackets"),
        ("1/0", "divides by zero"),
        ("1/0 in", "divides by zero"),
        ("width / (width - 100 mm)", "divides by zero"),
        ("2 ^ 9", "from -8 to 8"),
        ("2 ^ 0.5", "use sqrt"),
        ("9^8^8", "from -8 to 8"),
        ("sqrt(-4)", "below 0"),
        ("sqrt(width)", "no root"),
        ("arcsin(2)", "-1 to 1"),
        ("sin(width)", "plain number"),
        ("width +", "can't be understood"),
        ("(width", "can't be understood"),
        ("width width", "can't be understood"),
        ("3(width)", "sign between a number"),
        ("width = 3", "write =="),
        ("in + 2", "needs a number"),
        ("nothing", "not known"),
        ("__import__('os')", "not known"),
        ("eval('1')", "not known"),
        ("width.real", "is not allowed in a formula"),
        ("[width]", "is not allowed in a formula"),
        ("{width}", "is not allowed in a formula"),
        ("lambda: 1", "is not allowed in a formula"),
        ("width; width", "is not allowed in a formula"),
        ("width if tall else 2 mm", "can't be understood"),
        ("min(1, *rail)", "can't be understood"),
        ("min(a=1)", "write =="),
        ("'a' * 999999999", "but a number is wanted"),
        ("rail", "whole series"),
        ("rail(3)", "none at 3"),
        ("rail(0.5)", "whole number"),
        ("rail(-1)", "none at -1"),
        ("rail + 1", "this is a series"),
        ("min()", "there are no values here"),
        ("sin(1, 2)", "does not take 2"),
        ("tall + 1", "this is a yes or no"),
        ("width and tall", "a yes or no is wanted"),
        ("choose(1, 2, 3)", "a yes or no is wanted"),
        ("choose(tall, 1)", "three things"),
        ("round(width, 2)", "give the step a unit"),
        ("round(width, 0 mm)", "more than 0"),
        ("999999999 ^ 8", "the result is too large"),
        ("2 mm ^ 8 ^ 8", "from -8 to 8"),
        ("width\x00", "U+0000"),
        ("wïdth", "is not allowed in a formula"),
        ("width\nwidth", "can't be understood"),
        ("1e5 mm", "needs a number"),
        ("", "empty"),
        ("(" * 100 + "1" + ")" * 100, "deep"),
        ("-" * 250 + "1", "deep"),
        ("not " * 60 + "tall", "deep"),
        ("1 + " * 100 + "1", "too long"),
        ("9" * 290, "the result is too large"),
        ("0." + "3" * 290, None),
        ("1/" + "7" * 280, "the result is too large"),
        ("width / 3 / 7 / 11 / 13 / 17 / 19 / 23", None),
        (None, "is not a formula"),
        ([1], "is not a formula"),
        (float("nan"), "not a number"),
        (float("inf"), "not a number"),
        (1e308, "too large"),
    ],
)
def test_what_can_not_be_worked_out_says_what_to_do(text, said):
    start = time.perf_counter()
    if said is None:
        assert SCOPE.value(read_formula(text)) is not None
    else:
        with pytest.raises((FormulaError, BadValue)) as caught:
            SCOPE.value(read_formula(text))
        assert said in str(caught.value)
        assert "; " in str(caught.value)
        assert "v_" not in str(caught.value)
    assert time.perf_counter() - start < 1


def test_powers_of_powers_stay_short():
    scope = SCOPE
    names = {"a0": quantity(Fraction(10**6 + 1, 10**6 + 3))}
    for step in range(60):
        scope = scope.with_names(names)
        names = {f"a{step + 1}": value(f"a{step} * a{step}", scope)}
    (last,) = names.values()
    assert last.value.denominator.bit_length() < 1100
    assert 0 <= last.value < 1


def test_the_steps_of_one_item_end():
    scope = Scope(names={}, unit="mm", budget=Budget(left=10))
    scope.value(read_formula("1 + 1"))
    with pytest.raises(FormulaError, match="more steps than any item needs"):
        scope.value(read_formula("1 + 1"))


def test_a_name_that_is_wrong_elsewhere_is_told_there_only():
    with pytest.raises(PoisonError):
        SCOPE.without(["width"]).value(read_formula("width + 1 mm"))


@st.composite
def formulas(draw, depth=0):
    """A sum of plain numbers as text, and what Python's fractions make of it (None: divided by zero)."""
    kind = draw(
        st.sampled_from(["number", "mixed", "add", "sub", "mul", "div", "neg", "power"] if depth < 3 else ["number"])
    )
    if kind == "number":
        number = draw(st.decimals(0, 999, places=2))
        return str(number), Fraction(number)
    if kind == "mixed":
        whole, above, below = draw(st.integers(0, 99)), draw(st.integers(0, 63)), draw(st.integers(1, 64))
        return f"({whole} {above}/{below})", whole + Fraction(above, below)
    one, a = draw(formulas(depth=depth + 1))
    if kind == "neg":
        return f"(-{one})", None if a is None else -a
    if kind == "power":
        exponent = draw(st.integers(0, 2))
        return f"({one}) ^ {exponent}" if depth == 0 else f"(({one}) ^ {exponent})", None if a is None else a**exponent
    two, b = draw(formulas(depth=depth + 1))
    sign = {"add": "+", "sub": "-", "mul": "*", "div": "/"}[kind]
    text = f"({one} {sign} {two})"
    if a is None or b is None or (kind == "div" and b == 0):
        return text, None
    return text, {"add": a + b, "sub": a - b, "mul": a * b, "div": a / b if b else None}[kind]


@given(formulas())
@settings(max_examples=200)
def test_sums_are_those_of_pythons_fractions(one):
    text, wanted = one
    try:
        found = value(text)
    except FormulaError as error:
        if "too long" in str(error) or "two ways" in str(error):
            return
        assert wanted is None or abs(wanted) > 10**9, text
        return
    assert wanted is not None
    # Fractions longer than 200 bits are rounded to 53 of them, each by a factor of 1e-16 at most.
    assert float(found.value) == pytest.approx(float(wanted), rel=1e-12, abs=1e-12)
    if wanted.denominator.bit_length() < 60:
        assert found.value == wanted or abs(found.value - wanted) <= Fraction(1, 10**12) * (1 + abs(wanted))


@given(st.floats(-1000, 1000))
@settings(max_examples=100)
def test_angles_are_those_of_the_math_module(degrees):
    text = format(Fraction(degrees).limit_denominator(1000).__float__(), ".6f")
    radians = math.radians(float(text))
    text = f"({text})"
    assert float(value(f"sin{text}").value) == pytest.approx(math.sin(radians), abs=NEAR)
    assert float(value(f"cos{text}").value) == pytest.approx(math.cos(radians), abs=NEAR)
    if abs(math.cos(radians)) > 1e-3:
        assert float(value(f"tan{text}").value) == pytest.approx(math.tan(radians), rel=1e-6, abs=NEAR)


@given(st.text(max_size=60))
@settings(max_examples=200)
def test_any_text_is_a_sum_or_is_refused_in_words(text):
    with contextlib.suppress(FormulaError):
        SCOPE.value(read_formula(text))


_WORDS = [
    "width",
    "kind",
    "tall",
    "rail",
    "sum",
    "choose",
    "(",
    ")",
    ",",
    "+",
    "-",
    "*",
    "/",
    "^",
    "==",
    "<",
    "and",
    "not",
    "or",
    "2",
    "1/2",
    "in",
    "mm",
    "'a'",
    "ft",
]


@given(st.lists(st.sampled_from(_WORDS), max_size=14))
@settings(max_examples=300)
def test_any_words_are_a_sum_or_are_refused_in_words(words):
    with contextlib.suppress(FormulaError):
        SCOPE.value(read_formula(" ".join(words)))
