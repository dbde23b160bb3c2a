"""Words of a user about a list."""

import pytest

from negcurve.errors import InvalidValueError
from negcurve.tasks.list_words import channel_named, order_named, zero_named


def test_words_are_taken_as_typed_or_left_away():
    assert (zero_named("paper"), zero_named(None)) == ("paper", None)
    assert (channel_named(" Red "), channel_named(None)) == ("red", None)
    assert (order_named("alternating-rows"), order_named(None)) == (
        "alternating-rows",
        None,
    )


@pytest.mark.parametrize(
    ("named", "word", "message"),
    [
        (
            zero_named,
            "black",
            "--zero: densities counted from black say nothing about lightness\nZero "
            "the instrument on its white tile and read the print again; or subtract "
            "the paper's reading from all of them and give --zero paper.",
        ),
        (
            zero_named,
            "grey",
            "--zero: 'grey' is not known\nUse absolute, paper, scanner.",
        ),
        (
            channel_named,
            "",
            "--channel: '' is not known\nUse luminance, visual, red, green, blue.",
        ),
        (
            order_named,
            "snake",
            "--order: 'snake' is not known\nUse number, rows, columns, "
            "alternating-rows, alternating-columns.",
        ),
    ],
)
def test_other_words_are_refused(named, word, message):
    with pytest.raises(InvalidValueError) as caught:
        named(word)
    assert str(caught.value) == message
