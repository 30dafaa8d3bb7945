"""The bench sheet and the card in a real browser: accessible, unbroken at every width, printable."""

import io

import pikepdf
import pytest
from axe_playwright_python.sync_playwright import Axe
from sample_forecast import ODD_NAME, awkward, large, sample

from bibula.report.cardsheet import CardReport, CardRow, CardTest, card_page
from bibula.report.page import render_page

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
CARD = CardReport(
    name="Marl slab, lot 2",
    rows=(CardRow("capacity", 540.0, 9.0, "kg/m³", "measured", "uptake"), CardRow("spread", 1.1, 0.3, "1", "assumed")),
    correlations=(("capacity", "spread", 0.97),),
    tests=(CardTest("uptake", (5.0, 30.0, 60.0), (0.7, 1.7, 2.4), (0.7, 1.72, 2.38), "kg/m²"),),
    invented=True,
)
PAGES = {"sheet": lambda: render_page(sample()), "large": lambda: render_page(large()), "card": lambda: card_page(CARD)}


@pytest.fixture(scope="module")
def pages():
    return {name: make() for name, make in PAGES.items()}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("name", ["sheet", "card"])
def test_axe_finds_nothing(browser_page, pages, name, width, scheme):
    page = browser_page(width, scheme)
    page.set_content(pages[name])
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": TAGS}})
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("name", list(PAGES))
@pytest.mark.parametrize("width", [320, 390, 820, 1280])
def test_nothing_runs_off_the_side(browser_page, pages, name, width):
    page = browser_page(width)
    page.set_content(pages[name])
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [390, 1280])
def test_steps_are_big_enough_for_a_knuckle(browser_page, pages, width):
    page = browser_page(width)
    page.set_content(pages["sheet"])
    heights = [box.bounding_box()["height"] for box in page.locator(".steps label, summary").all()]
    assert heights
    assert min(heights) >= 48


def test_a_step_is_ticked_by_its_text(browser_page, pages):
    page = browser_page()
    page.set_content(pages["sheet"])
    page.get_by_text("Build the stack: blotter above.").click()
    assert page.locator(".steps input").first.is_checked()


@pytest.mark.parametrize("width", [390, 1280])
def test_no_drawing_is_wider_than_its_text_can_be_read(browser_page, pages, width):
    page = browser_page(width)
    page.set_content(pages["sheet"])
    sizes = page.evaluate(
        """() => [...document.querySelectorAll('figure svg')].filter(s => s.getBoundingClientRect().width)
        .flatMap(s => [...s.querySelectorAll('text')].map(t => {
            const scale = s.getBoundingClientRect().width / s.viewBox.baseVal.width;
            return parseFloat(getComputedStyle(t).fontSize) * scale; }))"""
    )
    assert len(sizes) > 30
    assert min(sizes) >= 10.0


@pytest.mark.parametrize("width", [390, 1280])
def test_no_word_of_a_drawing_is_clipped(browser_page, pages, width):
    page = browser_page(width)
    page.set_content(pages["large"])
    clipped = page.evaluate(
        """() => [...document.querySelectorAll('figure svg')].filter(s => s.getBoundingClientRect().width)
        .flatMap(s => { const b = s.getBoundingClientRect();
            return [...s.querySelectorAll('text')].filter(t => { const r = t.getBoundingClientRect();
                return r.left < b.left - 1 || r.right > b.right + 1 || r.top < b.top - 1 || r.bottom > b.bottom + 1; })
            .map(t => t.textContent); })"""
    )
    assert clipped == []


@pytest.mark.parametrize("name", ["sheet", "large"])
@pytest.mark.parametrize("width", [320, 1280])
def test_no_two_words_of_a_drawing_overlap(browser_page, pages, name, width):
    page = browser_page(width)
    page.set_content(pages[name])
    overlaps = page.evaluate(
        """() => [...document.querySelectorAll('figure svg')].filter(s => s.getBoundingClientRect().width)
        .flatMap(s => { const t = [...s.querySelectorAll('text')].map(e => [e.textContent, e.getBoundingClientRect()]);
            return t.flatMap(([a, p], i) => t.slice(i + 1).filter(([b, q]) =>
                Math.min(p.right, q.right) - Math.max(p.left, q.left) > 2 &&
                Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 4).map(([b]) => [a, b])); })"""
    )
    assert overlaps == []


def test_odd_names_are_shown_as_they_are(browser_page):
    page = browser_page()
    page.set_content(render_page(awkward()))
    assert page.locator("h1").inner_text() == ODD_NAME


def test_the_log_is_for_paper_only(browser_page, pages):
    page = browser_page()
    page.set_content(pages["sheet"])
    assert page.locator(".log").is_hidden()
    page.emulate_media(media="print")
    assert page.locator(".log").is_visible()


def test_notes_are_folded_on_the_screen_and_open_in_print(browser_page, pages):
    page = browser_page(390)
    page.set_content(pages["sheet"])
    notes = page.get_by_text("The slab's contact is a class value.")
    assert [n.is_visible() for n in notes.all()] == [False, False]
    page.get_by_text("1 note to this plan").click()
    assert [n.is_visible() for n in notes.all()] == [True, False]
    page.emulate_media(media="print")
    assert [n.is_visible() for n in notes.all()] == [False, True]


def test_the_steps_come_within_two_screens_of_a_phone(browser_page, pages):
    page = browser_page(390)
    page.set_content(pages["sheet"])
    assert page.locator(".steps").bounding_box()["y"] < 2 * 900


def test_the_page_prints(browser_page, pages):
    page = browser_page(scheme="dark")
    page.set_content(pages["sheet"])
    printed = page.pdf(format="A4", print_background=True)
    assert 3 <= len(pikepdf.open(io.BytesIO(printed)).pages) <= 8
