"""Settings of every test run, and the ledgers that many tests read."""

from __future__ import annotations

import fcntl
import os
import shutil
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

# a shared machine makes single examples slow now and then; examples are the same on every run
settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

if TYPE_CHECKING:
    from collections.abc import Callable

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
def once(tmp_path_factory):
    """What makes a folder by its name, in one process of the run alone; all others wait for it and read it."""
    base = tmp_path_factory.getbasetemp()
    top = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base

    def folder(name: str, make: Callable[[Path], object]) -> Path:
        made, done = top / name, top / f"{name}.done"
        with (top / f"{name}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not done.exists():
                shutil.rmtree(made, ignore_errors=True)
                made.mkdir()
                make(made)
                done.touch()
        return made

    return folder


@pytest.fixture(scope="session")
def demo_feed(once):
    """The demo's feed folder; its truth file lies beside it."""
    from sample_data.generate import generate

    return once("demo", lambda folder: generate(folder / "feed")) / "feed"


@pytest.fixture(scope="session")
def demo_dir(demo_feed, once):
    """A data folder with the demo loaded and analysed."""
    return once("demo_data", lambda folder: loaded(folder, demo_feed))


@pytest.fixture(scope="session")
def bus_dir(once):
    """A data folder with the city buses loaded and analysed."""
    feed = open_records("zurcher_buses")
    return once("buses", lambda folder: loaded(folder, feed, MAPPINGS / "zurcher_buses.toml"))


@pytest.fixture(scope="session")
def excavator_dir(once):
    """A data folder with the excavators' work orders loaded and analysed."""
    feed = open_records("uwa_excavators")
    return once("excavators", lambda folder: loaded(folder, feed, MAPPINGS / "uwa_excavators.toml"))


@pytest.fixture(scope="session")
def twenty_dir(tmp_path_factory):
    """A data folder with 20 records of 3 cars, as a new user types them."""
    from sample_data.twenty import write_twenty

    feed = tmp_path_factory.mktemp("twenty") / "feed"
    write_twenty(feed)
    return loaded(tmp_path_factory.mktemp("twenty_data"), feed)
