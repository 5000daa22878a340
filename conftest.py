"""Before anything is collected: whatever a test writes lands in a folder that goes away, never in a book."""

import tempfile
from pathlib import Path

import pytest
from django.conf import settings


def pytest_configure(config: pytest.Config) -> None:
    """Give the run a data folder of its own."""
    folder = tempfile.TemporaryDirectory(prefix="standbook-test-", ignore_cleanup_errors=True)
    config.add_cleanup(folder.cleanup)
    settings.DATA_DIR = Path(folder.name)
    settings.STATIC_ROOT = settings.DATA_DIR / "static"
    settings.STATIC_ROOT.mkdir()  # WhiteNoise warns about one that is not there
