"""Numbers and units as print has them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bibula.quantities.printed import plain_number, unit_text, with_u


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        (0.3124, 0.0113, "0.312 ± 0.011"),
        (28000.0, 15000.0, "28000 ± 15000"),
        (600.0, 150.0, "600 ± 150"),
        (1.0, 0.8, "1.0 ± 0.8"),
        (2.04e-8, 3e-9, "(2.04 ± 0.30)·10⁻⁸"),
        (1e-6, 1.1e-6, "(1.0 ± 1.1)·10⁻⁶"),
        (9.0, 0.0, "9.000"),
    ],
)
def test_the_uncertainty_sets_the_digits(value, u, text):
    assert with_u(value, u) == text


@pytest.mark.parametrize(
    ("unit", "text"), [("kg/(m2 s^0.5)", "kg/(m² √s)"), ("kg/m3", "kg/m³"), ("1", ""), ("kg/(m2 s Pa)", "kg/(m² s Pa)")]
)
def test_units_are_as_in_print(unit, text):
    assert unit_text(unit) == text


@given(st.floats(1e-12, 1e12), st.floats(1e-3, 2.0))
def test_no_number_has_a_bare_exponent(value, share):
    assert "e" not in with_u(value, share * value)
    assert "e" not in plain_number(value, 3)


@given(st.floats(1e-2, 4e4), st.floats(0.01, 2.0))
def test_what_is_printed_is_the_number(value, share):
    shown, u = (float(x) for x in with_u(value, share * value).split(" ± "))
    assert abs(shown - value) <= 0.06 * share * value
    assert abs(u - share * value) <= 0.06 * share * value
