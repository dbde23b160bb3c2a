"""Film data files: equal round trip, and what is refused."""

import json

import numpy as np
import pytest

from negcurve.errors import FileError
from negcurve.files.film_json import read_film, write_film
from negcurve.response.film import FilmData

FILM = FilmData(
    level_nodes=np.linspace(0, 1, 5),
    density_nodes=[1.9, 1.3, 0.8, 0.3, 0.0],
    error_nodes=[0.04, 0.02, 0.01, 0.01, 0.0],
    least_ink_level=0.25,
    measured_from=0.1,
    notes={"lamp": "tubes, 365 nm"},
    printer_path={"mode": "grey", "bits": "16"},
    source="sheet 7",
)


def test_round_trip(tmp_path):
    write_film(FILM, tmp_path / "f.json")
    back = read_film(tmp_path / "f.json")
    assert back.document() == FILM.document()
    assert np.isnan(back.base)
    text = json.loads((tmp_path / "f.json").read_text())
    assert text["schema"] == "negcurve/film/1"
    assert text["base"] is None


def test_nothing_is_overwritten_unasked(tmp_path):
    write_film(FILM, tmp_path / "f.json")
    with pytest.raises(FileError):
        write_film(FILM, tmp_path / "f.json")
    write_film(FILM, tmp_path / "f.json", overwrite=True)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"schema": "negcurve/film/2"}, "does not know"),
        ({"schema": "negcurve/solution/1"}, "film"),
        ({"density_nodes": [0, 1, 2, 3, 4]}, "must not rise"),
        ({"error_nodes": [0]}, "whole nodes"),
        ({"unheard": 1}, "damaged"),
    ],
)
def test_wrong_files_are_refused(tmp_path, change, said):
    write_film(FILM, tmp_path / "f.json")
    document = {**json.loads((tmp_path / "f.json").read_text()), **change}
    (tmp_path / "g.json").write_text(json.dumps(document))
    with pytest.raises(FileError, match=said):
        read_film(tmp_path / "g.json")


def test_other_text_is_refused(tmp_path):
    (tmp_path / "g.json").write_text("patch,density\n")
    with pytest.raises(FileError, match="is not JSON"):
        read_film(tmp_path / "g.json")


def test_stops_per_level_of_a_straight_film():
    straight = FilmData(
        level_nodes=[0, 1], density_nodes=[3.01029995664, 0], error_nodes=[0, 0]
    )
    # 3.0103 D hold back 2^10 of the light: ten stops over one unit of level.
    np.testing.assert_allclose(straight.stops_per_level(0.5), 10, rtol=1e-9)
