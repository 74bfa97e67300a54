"""A window system is there, or its tests are skipped and named, or fail under REQUIRE_ENGINES=1."""

import os

import pytest

from builder.engine.exchange.window import missing


@pytest.fixture(scope="session")
def screen() -> None:
    """For a test that types in a real window."""
    reason = missing()
    if reason and os.environ.get("REQUIRE_ENGINES") == "1":
        pytest.fail(f"engine missing: {reason}", pytrace=False)
    if reason:
        pytest.skip(f"engine missing: {reason}")
