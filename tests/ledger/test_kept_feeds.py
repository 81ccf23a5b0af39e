"""Kept feeds: whole or not there, named by their content, every byte watched."""

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.errors import LedgerError
from analytics.ledger.feeds import KeptFeed, feed_damage, feeds_dir, frame_hash, keep_feed, read_feed
from tests.ledger.feeds import CAR, ask, feed, job, put

FEED = feed(source="shop", settings={"currency": "EUR"}, vehicles=[CAR], repairs=[job(), job("18", note='a "b",\nc')])
MAPPING = 'source = "shop"\n# Größe\n'


def test_a_kept_feed_comes_back_as_it_was(tmp_path):
    mapped, text = read_feed(tmp_path, keep_feed(tmp_path, FEED, MAPPING).name)
    assert text == MAPPING
    assert (mapped.source, mapped.settings, mapped.files) == (FEED.source, FEED.settings, FEED.files)
    for name, frame in FEED.tables.items():
        assert mapped.tables[name].equals(frame)
        assert mapped.tables[name].schema == frame.schema


def test_keeping_it_again_writes_nothing(tmp_path):
    name = keep_feed(tmp_path, FEED, MAPPING).name
    before = {path: path.stat().st_mtime_ns for path in feeds_dir(tmp_path).rglob("*")}
    assert keep_feed(tmp_path, FEED, MAPPING) == KeptFeed(name, anew=False)
    assert {path: path.stat().st_mtime_ns for path in feeds_dir(tmp_path).rglob("*")} == before


@pytest.mark.parametrize(
    "other",
    [
        (feed(source="branch", settings=FEED.settings, **FEED.tables), MAPPING),
        (feed(source="shop", settings={"currency": "CHF"}, **FEED.tables), MAPPING),
        (feed(source="shop", settings=FEED.settings, vehicles=[CAR], repairs=[job(), job("18")]), MAPPING),
        (FEED, MAPPING + "#"),
    ],
)
def test_the_name_follows_the_content(tmp_path, other):
    assert keep_feed(tmp_path, *other).name != keep_feed(tmp_path, FEED, MAPPING).name


def test_one_flipped_bit_anywhere_is_found_and_mended_by_loading_again(tmp_path):
    name = keep_feed(tmp_path, FEED, MAPPING).name
    for path in sorted((feeds_dir(tmp_path) / name).iterdir()):
        content = path.read_bytes()
        for place in range(0, len(content), max(1, len(content) // 40)):
            flipped = bytearray(content)
            flipped[place] ^= 1 << place % 8
            path.write_bytes(flipped)
            assert name[:8] in feed_damage(tmp_path, name), (path.name, place)
        with pytest.raises(LedgerError, match=name[:8]):
            read_feed(tmp_path, name)
        assert keep_feed(tmp_path, FEED, MAPPING) == KeptFeed(name, anew=True)
        assert feed_damage(tmp_path, name) == ""


@pytest.mark.parametrize("file", ["manifest.json", "mapping.toml", "repairs.parquet"])
def test_a_missing_file_is_found(tmp_path, file):
    name = keep_feed(tmp_path, FEED, MAPPING).name
    (feeds_dir(tmp_path) / name / file).unlink()
    assert feed_damage(tmp_path, name)


def test_what_a_killed_process_left_is_cleared_away(tmp_path):
    left = feeds_dir(tmp_path) / ".writing-abc"
    left.mkdir(parents=True)
    (left / "repairs.parquet").write_bytes(b"half")
    keep_feed(tmp_path, FEED, MAPPING)
    assert not left.exists()


def test_the_feed_is_kept_before_any_judgement(tmp_path):
    report = put(tmp_path, repairs=[job(action="polished up", odometer="x")], mapping_text=MAPPING)
    mapped, text = read_feed(tmp_path, report.feed_hash)
    assert text == MAPPING
    assert mapped.tables["repairs"].select("action", "odometer").rows() == [("polished up", "x")]
    assert ask(tmp_path, "select feed_hash from load") == [(report.feed_hash,)]


@settings(max_examples=60)
@given(
    st.lists(st.sampled_from(["", None, '"', ",", "\n", "a", '","']), min_size=2, max_size=2),
    st.lists(st.sampled_from(["", None, '"', ",", "\n", "a", '","']), min_size=2, max_size=2),
)
def test_frames_have_one_hash_only_if_they_are_equal(left, right):
    frames = [
        pl.DataFrame({"x": [cells[0]], "y": [cells[1]]}, schema={"x": pl.String, "y": pl.String})
        for cells in (left, right)
    ]
    assert (frame_hash(frames[0]) == frame_hash(frames[1])) == (left == right)
