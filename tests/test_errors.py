"""The full message, exit code and pickling of every error class."""

import pickle

import pytest

import negcurve
from negcurve import errors
from negcurve.errors import (
    FileError,
    InvalidValueError,
    NegcurveError,
    ReadingsError,
    RecordError,
    SolveError,
)

CLASSES = [
    (NegcurveError, 1),
    (InvalidValueError, 2),
    (FileError, 3),
    (ReadingsError, 4),
    (SolveError, 5),
    (RecordError, 6),
]


def test_every_class_is_in_the_table():
    defined = {
        each
        for each in vars(errors).values()
        if isinstance(each, type) and issubclass(each, NegcurveError)
    }
    assert defined == {each for each, _ in CLASSES}


@pytest.mark.parametrize(("kind", "exit_code"), CLASSES)
def test_message_and_exit_code(kind, exit_code):
    error = kind("density 3.1 is off", where="r.csv, line 14", fix="Read it again.")
    assert str(error) == "r.csv, line 14: density 3.1 is off\nRead it again."
    assert error.exit_code == exit_code
    assert isinstance(error, NegcurveError)


@pytest.mark.parametrize(("kind", "exit_code"), CLASSES)
def test_parts_may_be_left_out(kind, exit_code):
    assert str(kind("it failed")) == "it failed"
    assert str(kind("it failed", where="here")) == "here: it failed"
    assert str(kind("it failed", fix="Try again.")) == "it failed\nTry again."


@pytest.mark.parametrize(("kind", "exit_code"), CLASSES)
def test_pickling_keeps_all_parts(kind, exit_code):
    error = kind("what", where="where", fix="fix")
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert (again.what, again.where, again.fix) == ("what", "where", "fix")


def test_an_invalid_value_is_also_a_value_error():
    with pytest.raises(ValueError, match="wrong"):
        raise InvalidValueError("wrong")


def test_the_base_of_all_is_a_public_name():
    assert negcurve.NegcurveError is NegcurveError
