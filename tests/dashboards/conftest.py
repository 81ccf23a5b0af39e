"""One snapshot of each kind for all page tests."""

import pytest

from tests.dashboards import snapshots


@pytest.fixture(scope="session")
def folders(tmp_path_factory):
    """Data folders by kind: rich, thin, buses, sales, nothing."""
    return {name: build(tmp_path_factory.mktemp(name)) for name, build in snapshots.BUILDERS.items()}
