"""From repair lines to spells at risk, against DuckDB's own scan and sort of the same lines.

Compared: `analytics.spells.exposure.build_exposure` of N generated repair lines in a ledger on disk, opened to read,
with DuckDB's own sort of those lines by car, component, position and day into a temporary table (what any reading of
histories needs at least). No general library makes spells, so only what both give is compared before timing: the
lines of every car, component and day, and the first day every car was seen. Loading the ledger is not timed.

Aim: at most 10 times DuckDB's time at a million lines, on 2 cores. It is missed. Measured last on a quiet virtual
machine with 2 cores: at 200,000 lines 18.6 times by the clock (5.3 s against 0.29 s) and 14.3 times in processor
seconds (7.2 s against 0.50 s), median of three runs; at a million lines 24.3 times (33.6 s against 1.38 s) and 17.1
times (45.7 s against 2.7 s), median of two, peak memory of the process 8.6 GB. What is left is spread over some sixty
steps, none above a tenth of the whole.

Run: python tests/benchmarks/spells.py [--size N] [--repeat N]
"""

from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl
from fleet_lines import LAST_DAY, write_feed
from measured import OURS, asked, median_times, show, versions
from polars.testing import assert_frame_equal

from analytics.ledger import load, open_ledger
from analytics.parameters import Parameters
from analytics.records import map_feed
from analytics.spells.exposure import build_exposure

SIZE = 200_000
SCAN_AND_SORT = (
    "create or replace temp table sorted as select * from repairs "
    "order by vehicle_id, component, position, closed_on, line_id"
)


def check(connection):
    """Compare what both sides give; stop where it differs."""
    ours = build_exposure(connection, LAST_DAY, Parameters())
    connection.execute(SCAN_AND_SORT)
    key = ["vehicle_id", "component", "closed_on"]
    theirs = connection.sql(f"select {', '.join(key)}, count(*) as lines from sorted group by all").pl()
    lines = ours.record.group_by(key).agg(lines=pl.len().cast(pl.Int64))
    assert_frame_equal(lines.sort(key), theirs.sort(key))
    seen = connection.sql("select vehicle_id, min(opened_on) as first_seen from sorted group by all").pl()
    assert_frame_equal(ours.vehicle.select("vehicle_id", "first_seen").sort("vehicle_id"), seen.sort("vehicle_id"))
    print(
        f"checked equal: {theirs.height:,} counts of lines by car, component and day; the first day of {seen.height:,} "
        f"cars. Not compared, as no general library makes them: {ours.spell.height:,} spells on both scales"
    )


def main():
    given = asked(__doc__, SIZE)
    with TemporaryDirectory() as top:
        feed, data = Path(top) / "feed", Path(top) / "data"
        feed.mkdir()
        write_feed(feed, given.size)
        load(data, map_feed(feed), loaded_on=LAST_DAY)
        with open_ledger(data, write=False) as connection:
            check(connection)
            runs = {
                OURS: lambda: build_exposure(connection, LAST_DAY, Parameters()),
                "DuckDB scan and sort": lambda: connection.execute(SCAN_AND_SORT),
            }
            times = median_times(runs, given.repeat)
    for seconds, clock in zip(times, ("by the clock", "of the processors"), strict=True):
        rates = {name: f"{given.size / taken:,.0f}" for name, taken in seconds.items()}
        title = f"{given.size:,} repair lines, seconds {clock}, median of {given.repeat}"
        show(title, seconds, {"lines a second": rates})
    print(versions("duckdb", "polars", "numpy"))


if __name__ == "__main__":
    main()
