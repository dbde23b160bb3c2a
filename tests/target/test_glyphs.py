import string

import pytest

from negcurve.errors import InvalidValueError
from negcurve.target.glyphs import ADVANCE, GLYPH_HEIGHT, glyphs, runs, text_width


def test_every_letter_and_digit_is_there_and_alike_to_no_other() -> None:
    drawn = glyphs()
    assert set(string.ascii_letters + string.digits + " .,:-/%()+=") <= set(drawn)
    assert len(set(drawn.values())) == len(drawn)


def test_glyphs_are_five_by_nine() -> None:
    for glyph in glyphs().values():
        assert len(glyph) == GLYPH_HEIGHT
        assert {len(row) for row in glyph} == {5}
        assert set("".join(glyph)) <= set("#. ")


def test_runs_cover_the_dots() -> None:
    text = "g1 %"
    dots = {
        (row, column)
        for row, start, stop in runs(text)
        for column in range(start, stop)
    }
    expected = {
        (row, place * ADVANCE + column)
        for place, letter in enumerate(text)
        for row, line in enumerate(glyphs()[letter])
        for column, dot in enumerate(line)
        if dot == "#"
    }
    assert dots == expected
    assert max(column for _, column in dots) < text_width(text)


def test_unknown_letter() -> None:
    with pytest.raises(InvalidValueError, match="no glyph for 'é'"):
        runs("café")
