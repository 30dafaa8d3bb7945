"""A fitted card as text and page: estimates, doubts, residuals."""

import pytest

from bibula.report.cardsheet import (
    CardReport,
    CardRow,
    CardTest,
    card_lines,
    card_page,
    card_summary,
    residual_chart,
    stayed_assumed,
    strong_correlations,
)

UPTAKE = CardTest(
    "uptake, piece 1", (5.0, 15.0, 30.0, 60.0), (0.69, 1.18, 1.74, 2.4), (0.70, 1.21, 1.71, 2.42), "kg/m²"
)
REPORT = CardReport(
    name="Marl slab, lot 2 <b>",
    rows=(
        CardRow("absorption coefficient", 0.3124, 0.0113, "kg/(m² s^0.5)", "measured", "uptake, four pieces"),
        CardRow("median suction", 28000.0, 15000.0, "Pa", "assumed"),
        CardRow("suction spread", 1.1, 0.3, "1", "assumed"),
    ),
    correlations=(("capacity", "absorption coefficient", 0.12), ("median suction", "suction spread", -0.97)),
    tests=(UPTAKE,),
    kind="slab",
    lot="2",
    date="2026-03-02",
    invented=True,
)


def test_lines_carry_unit_and_origin():
    first = card_lines(REPORT)[0]
    assert (first.value, first.origin) == ("0.312 ± 0.011 kg/(m² √s)", "measured: uptake, four pieces")
    assert card_lines(REPORT)[2].value == "1.1 ± 0.3"


def test_what_stayed_assumed_is_named():
    assert stayed_assumed(REPORT) == ("median suction", "suction spread")
    assert "median suction, suction spread." in card_summary(REPORT)


def test_strong_correlations_come_first_with_a_word():
    assert strong_correlations(REPORT)[0] == ("median suction", "suction spread", "-0.97", "hardly told apart")


def test_residuals_are_observed_less_fitted():
    chart = residual_chart(UPTAKE, "t")
    assert chart.points[0].y == pytest.approx((-0.01, -0.03, 0.03, -0.02))
    assert "4 readings; the largest difference is 0.030 kg/m²." in chart.summary


def test_the_page_escapes_names_and_draws_each_test():
    page = card_page(REPORT)
    assert "Marl slab, lot 2 &lt;b&gt;" in page
    assert page.count("<svg") == 2
    assert "INVENTED EXAMPLE" in page


def test_a_card_without_tests_still_reads():
    bare = CardReport(name="Bare", rows=())
    assert "Bare" in card_page(bare)
    assert "Bare" in card_summary(bare)


def test_the_summary_keeps_its_width():
    assert max(len(line) for line in card_summary(REPORT, 80).splitlines()) <= 80
