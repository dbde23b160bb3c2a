import pytest

from tests.reading.prints import small_layout


@pytest.fixture(scope="session")
def layout():
    return small_layout()
