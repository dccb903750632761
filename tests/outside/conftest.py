"""What the outside checks share with pytest."""

import pytest


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line(
        "markers",
        "circular: the expected value comes from the package that the project itself calls, "
        "so it checks the call and not the result",
    )
