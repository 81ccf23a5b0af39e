"""Loading repair lines with full validation, against DuckDB's reading of the same file without any.

Compared: `analytics.records.map_feed` and `analytics.ledger.load` of N generated repair lines (and their cars,
components and parts: about one row in sixty more) into a new ledger on disk, with DuckDB's
`create table as select * from read_csv(...)` of the repairs' file into a new database on disk. DuckDB guesses types
and judges nothing; ours reads every value by its declared rule, looks up every car, keeps the feed as it came, and
numbers revisions. Every run has a process of its own; what is timed begins when all libraries are imported. Peak
memory is that process's VmHWM (Linux; empty elsewhere), imports included; `imports only` is a process that loads
nothing.
Once loaded, before the times are printed, the two tables are checked to hold the same values in every column.

Aims: at most 6 times DuckDB's time at a million lines; at five million, a peak below 1 GiB. Measured on a quiet
virtual machine with 2 cores, medians of 3 at a million lines in three runs: 5.9 to 6.2 s against 1.03 to 1.05 s (5.8 to
5.9 times), 825 to 843 MiB. Five million lines: 29 s against 4.3 s (6.7 to 7 times), 997 to 1,016 MiB. So both aims are
met, with little to spare. With other work on the cores the ratio falls, because DuckDB keeps both busy by itself.

Run: python tests/benchmarks/load.py [--size N] [--repeat N]
"""

import json
import statistics
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import duckdb
from fleet_lines import LAST_DAY, write_feed
from measured import OURS, asked, show, versions

from analytics.ledger import load
from analytics.ledger.connect import ledger_path
from analytics.records import map_feed

SIZE = 200_000
THEIRS, NOTHING = "DuckDB read_csv", "imports only"
ONLY = "only"
"""First argument of the processes this one starts."""


def load_ours(feed, folder):
    report = load(folder, map_feed(feed), loaded_on=LAST_DAY)
    if report.count("accepted") != report.count("rows_read") or report.count("set_aside"):
        raise SystemExit(f"the feed was to be accepted whole: {report.sentence()}")


def load_theirs(feed, folder):
    with duckdb.connect(str(folder / "theirs.duckdb")) as connection:
        connection.execute("create table repairs as select * from read_csv(?)", [str(feed / "repairs.csv")])


def load_nothing(feed, folder):
    """Give the memory of a process that has only imported."""


RUNS = {OURS: load_ours, THEIRS: load_theirs, NOTHING: load_nothing}


def measured(name, feed, folder):
    """Return seconds and peak memory in MB of this process, which has done nothing else."""
    began = time.perf_counter()
    RUNS[name](feed, folder)
    return time.perf_counter() - began, peak_megabytes()


def peak_megabytes():
    status = Path("/proc/self/status")
    if not status.exists():
        return None
    (line,) = (line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    return int(line.split()[1]) / 1024


def in_own_process(name, feed, folder):
    folder.mkdir()
    command = [sys.executable, __file__, ONLY, name, str(feed), str(folder)]
    return json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout)


def check(ours, theirs):
    """Compare every column of the file, as text."""
    with duckdb.connect() as connection:
        connection.execute(f"attach '{ours}' as ours (read_only)")
        connection.execute(f"attach '{theirs}' as theirs (read_only)")
        names = [row[0] for row in connection.execute("describe theirs.repairs").fetchall()]
        texts = ", ".join(_comparable(name) for name in names)
        one, other = (f"select {texts} from {side}.repairs" for side in ("ours", "theirs"))
        different = f"select count(*) from (({one} except all {other}) union all ({other} except all {one}))"
        ((rows,),) = connection.execute(different).fetchall()
        ((count,),) = connection.execute("select count(*) from ours.repairs").fetchall()
    if rows:
        raise SystemExit(f"{rows} rows differ between the ledger and DuckDB's own table")
    print(f"checked equal: all {count:,} repair lines in all {len(names)} columns of the file")


def _comparable(name):
    return f"{name}::double" if name in ("odometer", "quantity", "labour_minutes", "cost") else f"{name}::varchar"


def main():
    given = asked(__doc__, SIZE)
    with TemporaryDirectory() as top:
        place = Path(top)
        feed = place / "feed"
        feed.mkdir()
        file = write_feed(feed, given.size)
        taken = {name: [] for name in RUNS}
        for turn in range(given.repeat):
            for name in RUNS:
                taken[name].append(in_own_process(name, feed, place / f"{turn} {name}"))
        check(ledger_path(place / f"0 {OURS}"), place / f"0 {THEIRS}" / "theirs.duckdb")
        megabytes = file.stat().st_size / 1e6
    seconds = {name: statistics.median(run[0] for run in runs) for name, runs in taken.items() if name != NOTHING}
    peaks = {name: statistics.median(run[1] for run in runs) for name, runs in taken.items() if runs[0][1] is not None}
    rates = {name: f"{given.size / time_taken:,.0f}" for name, time_taken in seconds.items()}
    title = f"{given.size:,} repair lines, {megabytes:.0f} MB of CSV, median of {given.repeat}"
    cells = {name: f"{peak:,.0f}" for name, peak in peaks.items()}
    show(title, seconds, {"lines a second": rates, "peak MB": cells})
    if peaks:
        ratio = peaks[OURS] / peaks[THEIRS]
        print(f"peak memory, ours / DuckDB: {ratio:.3g}; a process with the imports only: {peaks[NOTHING]:,.0f} MB")
    print(versions("duckdb", "polars"))


if __name__ == "__main__":
    if sys.argv[1:2] == [ONLY]:
        print(json.dumps(measured(sys.argv[2], Path(sys.argv[3]), Path(sys.argv[4]))))
    else:
        main()
