"""The finished sheet: HTML and PDF that say the same, whole or not at all."""

import errno
import io
import json
import os
import re
import subprocess
from dataclasses import replace
from html.parser import HTMLParser

import pikepdf
import pytest
from sample_forecast import ODD_NAME, awkward, large, sample

from bibula.quantities.caution import Caution
from bibula.quantities.errors import InputError
from bibula.report import engine, write
from bibula.report.engine import render_pdf
from bibula.report.page import render_page
from bibula.report.write import file_stem, write_sheet


class _Text(HTMLParser):
    def __init__(self):
        super().__init__()
        self.text = []

    def handle_data(self, data):
        self.text.append(data)


def _html_text(html):
    parser = _Text()
    parser.feed(html)
    return " ".join(" ".join(parser.text).split())


def _pdf_text(pdf):
    """All text of a PDF as its own character maps give it, joined without gaps."""
    found = []
    for page in pikepdf.open(io.BytesIO(pdf)).pages:
        found += _page_text(page)
    return "".join("".join(found).split())


def _page_text(page):
    maps = {str(name): _unicode_map(font) for name, font in page.Resources.Font.items()}
    current, found = {}, []
    for operands, operator in pikepdf.parse_content_stream(page):
        if str(operator) == "Tf":
            current = maps[str(operands[0])]
        elif str(operator) in ("Tj", "TJ"):
            parts = operands[0] if str(operator) == "TJ" else [operands[0]]
            for part in parts:
                if isinstance(part, pikepdf.String):
                    raw = bytes(part)
                    found += [current.get(raw[i : i + 2], "") for i in range(0, len(raw), 2)]
    return found


def _unicode_map(font):
    text = font.ToUnicode.read_bytes().decode("latin-1")
    pairs = re.findall(r"<([0-9A-Fa-f]{4})>\s*<([0-9A-Fa-f]+)>", text)
    return {bytes.fromhex(a): bytes.fromhex(b).decode("utf-16-be") for a, b in pairs}


@pytest.fixture(scope="module")
def pdf():
    return render_pdf(sample())


@pytest.fixture(scope="module")
def html():
    return render_page(sample())


def test_the_page_stands_alone(html):
    assert "<script" not in html
    assert re.findall(r'(?:src|href)="(?!#)[^"]*"', html.replace("xlink:href", "xlink")) == []
    assert "@import" not in html
    assert '<html lang="en">' in html


def test_page_and_pdf_are_reproducible(pdf, html):
    assert render_pdf(sample()) == pdf
    assert render_page(sample()) == html


def test_page_and_pdf_say_the_main_things(pdf, html):
    page, paper = _html_text(html), _pdf_text(pdf)
    for words in (
        "INVENTED EXAMPLE",
        "STOP",
        "about 40 min",
        "change at 0:20",
        "64 % (52 to 75 %)",
        "Yes: left alone",
        "Sugarman1992",
        "0.31 (0.28 to 0.34)",
        "A stop, set aside: the plate mark was lost",
        "crystalline silica dust",
        "2–3 cm",
    ):
        assert words in page
        assert words.replace(" ", "") in paper


def test_odd_characters_are_shown_as_they_are():
    page, paper = _html_text(render_page(awkward())), _pdf_text(render_pdf(awkward()))
    for words in (ODD_NAME, '"quotes" & <i>more</i> \\ #set'):
        assert words in page
        assert words.replace(" ", "") in paper


def _page_count(pdf):
    return len(pikepdf.open(io.BytesIO(pdf)).pages)


def test_a_usual_sheet_is_two_pages(pdf):
    assert _page_count(pdf) == 2
    assert _page_count(render_pdf(sample(), "inch")) <= 3  # Letter paper is 18 mm shorter


def test_a_whole_page_of_log_comes_only_on_request(pdf):
    assert _page_count(render_pdf(sample(), log_page=True)) == _page_count(pdf) + 1


def test_the_layout_with_the_fewest_pages_is_taken():
    pages = dict.fromkeys(engine.LAYOUTS, 3)
    assert engine._best(lambda x: pages[x]) == engine.LAYOUTS[-2]
    pages[engine.LAYOUTS[-2]] = 4
    assert engine._best(lambda x: pages[x]) == engine.LAYOUTS[-1]
    pages[engine.LAYOUTS[1]] = 2
    assert engine._best(lambda x: pages[x]) == engine.LAYOUTS[1]


def test_inch_prints_on_letter_paper():
    doc = pikepdf.open(io.BytesIO(render_pdf(sample(), "inch")))
    assert [float(x) for x in doc.pages[0].MediaBox] == [0, 0, 612, 792]


def test_the_pdf_marks_itself_as_archival_and_accessible(pdf):
    doc = pikepdf.open(io.BytesIO(pdf))
    xmp = doc.open_metadata()
    assert (xmp["pdfaid:part"], xmp["pdfaid:conformance"], xmp["pdfuaid:part"]) == ("3", "A", "1")
    assert doc.Root.MarkInfo.Marked
    assert "/StructTreeRoot" in doc.Root
    assert str(doc.Root.Lang) == "en"
    assert "/OutputIntents" in doc.Root


def test_every_font_is_embedded_and_ours(pdf):
    doc = pikepdf.open(io.BytesIO(pdf))
    descriptors = [x for x in doc.objects if isinstance(x, pikepdf.Dictionary) and x.get("/Type") == "/FontDescriptor"]
    assert descriptors
    for d in descriptors:
        assert "/FontFile2" in d or "/FontFile3" in d
        assert re.search("Libertinus|DejaVu", str(d.FontName))


def test_no_text_is_smaller_than_nine_points(pdf):
    for page in pikepdf.open(io.BytesIO(pdf)).pages:
        sizes = [float(o[1]) for o, op in pikepdf.parse_content_stream(page) if str(op) == "Tf"]
        assert min(sizes) >= 9.0


def test_every_figure_has_its_words(pdf):
    doc = pikepdf.open(io.BytesIO(pdf))
    alts = [str(x.Alt) for x in doc.objects if isinstance(x, pikepdf.Dictionary) and x.get("/S") == "/Figure"]
    assert len(alts) == 4
    assert all(len(a) > 40 for a in alts)


def test_the_numbers_are_attached(pdf):
    doc = pikepdf.open(io.BytesIO(pdf))
    assert len(doc.Root.AF) == 1
    assert str(doc.Root.AF[0].AFRelationship) == "/Data"
    data = json.loads(doc.attachments["forecast.json"].get_file().read_bytes())
    assert data["sheet_water_g_m2"]["median"] == sample().sheet_water_g_m2.median.tolist()


def test_a_sign_the_fonts_lack_names_its_field():
    with pytest.raises(InputError, match=r"field 'object_name': the sign '漢' \(U\+6F22\) is not in the fonts"):
        render_pdf(replace(sample(), object_name="Print 漢"))


def test_a_sign_the_fonts_lack_is_found_in_a_list_too():
    base = sample()
    odd = replace(base, inputs=(replace(base.inputs[0], value="warm\u0007"), *base.inputs[1:]))
    with pytest.raises(InputError, match=r"field 'inputs\[1\]\.value'"):
        render_pdf(odd)


def test_the_page_takes_any_script():
    assert "漢" in render_page(replace(sample(), object_name="漢", stage_names=("漢", "b", "c")))


def test_stops_come_first_then_steps_then_cautions_then_notes(html):
    text = _html_text(html)
    marks = ["STOP", "OVERRIDE NEEDED", "In short", "What to do", "CAUTION", "1 note to this plan", "When"]
    places = [text.index(mark) for mark in marks]
    assert places == sorted(places)


def test_a_standing_caution_is_printed_once():
    dust = Caution("note", "Dust holds crystalline silica.", "slab", "", rule="dust")
    told = replace(sample(), cautions=(dust,))
    assert _pdf_text(render_pdf(told)).count("crystallinesilica") == 1
    assert _html_text(render_page(told)).count("crystalline silica") == 2  # folded on the screen, open in print


def test_a_large_plan_still_makes_a_sheet():
    assert len(pikepdf.open(io.BytesIO(render_pdf(large()))).pages) <= 5
    assert render_page(large()).count("<li") > 12


def test_a_bare_forecast_still_makes_a_sheet():
    bare = replace(
        sample(),
        milestones=(),
        cautions=(),
        absorbents=(),
        pictures=(),
        inputs=(),
        warnings=(),
        citations=(),
        observations=(),
        mould_hours=(),
        water_budget_g_m2=(),
        layers_by_stage=(),
        overnight="",
        made="",
    )
    assert render_page(bare)
    assert render_pdf(bare)


def test_both_files_are_written(tmp_path):
    page, paper = write_sheet(sample(), tmp_path / "new" / "folder")
    assert page.name == "bench-sheet-etching-of-a-harbour-wall-invented.html"
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert paper.read_bytes().startswith(b"%PDF")
    assert len(list(page.parent.iterdir())) == 2


def test_a_name_without_letters_still_gives_a_file_name():
    assert file_stem("漢 / ..") == "bench-sheet"
    assert len(file_stem("x" * 500)) < 80


def test_a_file_in_place_of_the_folder_is_said_plainly(tmp_path):
    (tmp_path / "taken").write_text("")
    with pytest.raises(InputError, match=r"taken: this is a file, not a folder; choose a folder"):
        write_sheet(sample(), tmp_path / "taken")


@pytest.mark.parametrize(("code", "words"), [(errno.ENOSPC, "disk is full"), (errno.EACCES, "may not be written")])
def test_a_failed_write_leaves_nothing_and_keeps_the_old(tmp_path, monkeypatch, code, words):
    old = tmp_path / "bench-sheet-etching-of-a-harbour-wall-invented.html"
    old.write_text("old")

    def fail(_):
        raise OSError(code, "no")

    monkeypatch.setattr(write.os, "fsync", fail)
    with pytest.raises(InputError, match=words):
        write_sheet(sample(), tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == [old.name]
    assert old.read_text() == "old"


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_leave_to_write_is_said_plainly(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(InputError, match="may not be written"):
        write_sheet(sample(), tmp_path)


def test_importing_the_room_loads_no_heavy_library():
    code = "import sys, bibula.report.write; print([m for m in ('matplotlib', 'typst') if m in sys.modules])"
    done = subprocess.run([os.sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
