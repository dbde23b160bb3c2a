"""The public module: every name loads, whatever was imported before."""

import importlib
import pkgutil

import negcurve.darkroom as room


def test_every_public_name_is_what_its_module_says() -> None:
    for info in pkgutil.iter_modules(room.__path__):
        importlib.import_module(f"negcurve.darkroom.{info.name}")
    for name in room.__all__:
        found = getattr(room, name)
        assert callable(found), name
        assert found.__doc__, name
        assert found.__module__.startswith("negcurve.darkroom."), name


def test_no_public_name_is_also_a_module() -> None:
    modules = {info.name for info in pkgutil.iter_modules(room.__path__)}
    assert not modules & set(room.__all__)
