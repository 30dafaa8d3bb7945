"""Every key of a TOML text is found where it stands."""

import pytest

from bibula.quantities.errors import InputError
from bibula.quantities.toml_places import parse_toml, place_of

TEXT = '''# a comment with [brackets] and a = b
title = "one # no comment"

[plan]
a.b = 1 # dotted
  "quoted key" = """two
[not_a_header]
x = 1
"""
list = [
    1, # one ]
    {p = 3, q = "}"},
]

[[layers]]
name = 'first'

[[layers]]
name = "second \\" still"
  [layers.size]
  w = 1_000
'''


@pytest.mark.parametrize(
    ("path", "place"),
    [
        ("title", (2, 1)),
        ("plan", (4, 1)),
        ("plan.a.b", (5, 1)),
        ("plan.quoted key", (6, 3)),
        ("plan.list", (10, 1)),
        ("plan.list.0", (11, 5)),
        ("plan.list.1.q", (12, 13)),
        ("layers.0.name", (16, 1)),
        ("layers.1", (18, 1)),
        ("layers.1.name", (19, 1)),
        ("layers.1.size.w", (21, 3)),
        (("plan", "quoted key"), (6, 3)),
    ],
)
def test_key_is_found(path, place):
    parse_toml(TEXT)
    assert place_of(TEXT, path) == place


def test_missing_key_gives_its_table():
    assert place_of(TEXT, "layers.1.weight") == (18, 1)
    assert place_of(TEXT, "nowhere.at.all") == (1, 1)


def test_windows_line_ends_count_as_one():
    assert place_of("a = 1\r\n\r\nb = 2\r\n", "b") == (3, 1)


@pytest.mark.parametrize(
    ("text", "line", "column"), [("a = 1\nb = \n", 2, 5), ("a = 1\n[b\n", 2, 3), ('a = "open', 1, 10)]
)
def test_bad_syntax_names_line_and_column(text, line, column):
    with pytest.raises(InputError) as caught:
        parse_toml(text, "p.toml")
    assert (caught.value.place.file, caught.value.place.line, caught.value.place.column) == ("p.toml", line, column)


@pytest.mark.parametrize("text", ["", "[", "= =", "a = [1", "a = {b", ']]"', "a"])
def test_locator_ends_on_any_text(text):
    assert place_of(text, "a.b") >= (1, 1)
