"""Settings of every test run, and the ledgers that many tests read."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import settings

# a shared machine makes single examples slow now and then; examples are the same on every run
settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

ROOT = Path(__file__).resolve().parents[1]
SHARED = ROOT.parent / "shared"
MAPPINGS = ROOT / "sample_data" / "mappings"
LOADED_ON = date(2026, 11, 24)


def loaded(data_dir: Path, feed: Path, mapping: Path | None = None) -> Path:
    """Load a feed and analyse it, as the commands do; return the data folder."""
    from analytics.ledger import load
    from analytics.pipeline import analyse
    from analytics.records import map_feed, parse_mapping

    mapped = map_feed(feed, parse_mapping(mapping) if mapping else None)
    text = mapping.read_text(encoding="utf-8") if mapping else ""
    load(data_dir, mapped, loaded_on=LOADED_ON, mapping_text=text)
    analyse(data_dir)
    return data_dir


def open_records(folder: str) -> Path:
    path = SHARED / "open_data" / folder
    if not path.is_dir():
        pytest.skip(f"open records {folder} lie in ../shared/open_data, which is absent")
    return path


@pytest.fixture(scope="session")
def demo_feed(tmp_path_factory):
    """The demo's feed folder; its truth file lies beside it."""
    from sample_data.generate import generate

    folder = tmp_path_factory.mktemp("demo") / "feed"
    generate(folder)
    return folder


@pytest.fixture(scope="session")
def demo_dir(demo_feed, tmp_path_factory):
    """A data folder with the demo loaded and analysed."""
    return loaded(tmp_path_factory.mktemp("demo_data"), demo_feed)


@pytest.fixture(scope="session")
def bus_dir(tmp_path_factory):
    """A data folder with the city buses loaded and analysed."""
    return loaded(tmp_path_factory.mktemp("buses"), open_records("zurcher_buses"), MAPPINGS / "zurcher_buses.toml")


@pytest.fixture(scope="session")
def excavator_dir(tmp_path_factory):
    """A data folder with the excavators' work orders loaded and analysed."""
    return loaded(
        tmp_path_factory.mktemp("excavators"), open_records("uwa_excavators"), MAPPINGS / "uwa_excavators.toml"
    )


@pytest.fixture(scope="session")
def twenty_dir(tmp_path_factory):
    """A data folder with 20 records of 3 cars, as a new user types them."""
    from sample_data.twenty import write_twenty

    feed = tmp_path_factory.mktemp("twenty") / "feed"
    write_twenty(feed)
    return loaded(tmp_path_factory.mktemp("twenty_data"), feed)
