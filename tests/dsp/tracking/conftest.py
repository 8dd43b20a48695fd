"""What every test of the tracking needs."""

import pytest


@pytest.fixture(scope="session", autouse=True)
def compiled_first(compiled_tracker: None) -> None:
    """Compile before the first test, in one process at a time."""
