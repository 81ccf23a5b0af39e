"""The demo is written the same every time, quickly, in the native layout, with its truth beside it."""

import time

import polars as pl
import pytest

from analytics.records.feed import FEED
from sample_data.generate import DEFAULT_SEED, generate
from sample_data.truth import Truth

TABLES = (
    *("vehicles", "repairs", "readings", "components", "locations", "parts", "stock", "sales", "fitted"),
    *("limits", "opinions"),
)


def small(folder, **chosen):
    return generate(folder / "feed", **{"years": 10, "cars_in_care": 60, **chosen})


def files(folder):
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_same_seed_writes_the_same_bytes(tmp_path, demo_feed):
    started = time.process_time()
    truth = generate(tmp_path / "again" / "feed")
    assert time.process_time() - started < 10
    assert truth.seed == DEFAULT_SEED
    assert files(tmp_path / "again") == files(demo_feed.parent)


def test_another_seed_writes_another_fleet(tmp_path):
    small(tmp_path / "a", seed=1)
    small(tmp_path / "b", seed=2)
    a, b = files(tmp_path / "a"), files(tmp_path / "b")
    assert a.keys() == b.keys()
    assert a["feed/repairs.csv"] != b["feed/repairs.csv"]
    assert a["feed/components.csv"] == b["feed/components.csv"]


def test_writing_over_an_older_demo_leaves_nothing_of_it(tmp_path):
    small(tmp_path, seed=1)
    small(tmp_path, seed=2)
    small(tmp_path / "new", seed=2)
    assert {n: b for n, b in files(tmp_path).items() if not n.startswith("new/")} == files(tmp_path / "new")


def test_the_truth_lies_beside_the_feed_and_reads_back_as_written(tmp_path):
    truth = small(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"feed", "truth.json"}
    assert {path.stem for path in (tmp_path / "feed").iterdir()} == set(TABLES)
    assert Truth.read(tmp_path / "truth.json") == truth


def test_a_law_is_found_by_the_word_of_the_catalogue(tmp_path):
    truth = small(tmp_path)
    assert truth.law("vact", "SL-7101").median_years == 7
    assert truth.law("dist").median_km == 35_000
    with pytest.raises(KeyError):
        truth.law("flap actuator")


@pytest.mark.parametrize("asked", [{"years": 9}, {"cars_in_care": 59}])
def test_too_small_a_scenario_is_refused(tmp_path, asked):
    with pytest.raises(ValueError, match="the truths need 10 years and 60 cars"):
        generate(tmp_path / "feed", **asked)
    assert not (tmp_path / "feed").exists()


def test_the_archive_ends_on_its_fixed_day_whatever_its_length(tmp_path):
    truth = small(tmp_path)
    assert (truth.first_day, truth.last_day) == ("2016-11-25", "2026-11-24")


@pytest.mark.parametrize("name", TABLES)
def test_every_file_has_the_native_columns_and_no_key_twice(demo_feed, name):
    table = FEED[name]
    frame = pl.read_csv(demo_feed / f"{name}.csv", infer_schema=False)
    assert tuple(frame.columns) == table.names
    for column in table.required:
        if column != "line_no":
            assert frame[column].null_count() == 0
    twice = frame.filter(pl.struct(table.key).is_duplicated())
    assert twice.height == (16 if name == "repairs" else 0)  # the eight job numbers that were used twice


def test_the_demo_is_as_large_as_the_scenario_says(demo_feed):
    truth = Truth.read(demo_feed.parent / "truth.json")
    assert (truth.first_day, truth.last_day) == ("2012-11-25", "2026-11-24")
    assert 400 <= truth.counts["cars ever in care"] <= 460
    assert 8_000 <= truth.counts["lines"] <= 20_000
    for name in TABLES:
        assert truth.counts[name] == pl.read_csv(demo_feed / f"{name}.csv", infer_schema=False).height


def test_nothing_is_dated_outside_the_archive_but_the_typing_errors(demo_feed):
    truth = Truth.read(demo_feed.parent / "truth.json")
    repairs = pl.read_csv(demo_feed / "repairs.csv", infer_schema=False)
    wrong = {(d.record_id, str(d.line_no)) for d in truth.dirty if d.column in {"closed_on", "opened_on"}}
    clean = repairs.filter(
        ~pl.struct("record_id", "line_no").map_elements(
            lambda r: (r["record_id"], r["line_no"]) in wrong, return_dtype=pl.Boolean
        )
    )
    assert clean.height == repairs.height - len(wrong)
    assert clean["closed_on"].max() <= truth.last_day
    assert clean["opened_on"].min() >= truth.first_day
    assert clean.filter(pl.col("opened_on") > pl.col("closed_on")).height == 0
