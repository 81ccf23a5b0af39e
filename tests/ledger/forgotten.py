"""A data folder in which one car is everywhere it can be, and a search for what is left of it."""

import duckdb
import polars as pl

from analytics.ledger import doctor
from tests.ledger.feeds import job, put

CAR = "Kestrel-77"
SERIAL = "SN4471199"
TRACES = (CAR, SERIAL, "ORDER-881", "ORDER-882", "LOST-883", "BLANK", "whistling gearbox", "polished-up-77", "7712345")
"""What only the car's rows tell."""


def other(record_id, **changed):
    return job(record_id, vehicle_id="B", **changed)


def fill(data, *, with_car=True):
    """Load three feeds in which the car is everywhere it can be; without it, the same rows of the others."""
    his = [
        job("ORDER-881", vehicle_id=CAR, note="whistling gearbox", odometer="7712345"),
        job("ORDER-882", vehicle_id=f" {CAR} ", action="polished-up-77"),
        job("ORDER-882", "2", vehicle_id="", note="BLANK"),
    ]
    put(
        data,
        source="shop",
        vehicles=[
            {"vehicle_id": "B", "series": "first", "serial": "SN1"},
            *([{"vehicle_id": CAR, "series": "first", "serial": SERIAL}] if with_car else []),
        ],
        repairs=[
            other("1", note="a note", odometer="x"),
            other("2", action="nonsense"),
            *(his if with_car else []),
        ],
        readings=[
            {"vehicle_id": "B", "read_on": "2020-01-01", "odometer": "10"},
            *([{"vehicle_id": CAR, "read_on": "2020-01-01", "odometer": "7712345"}] if with_car else []),
        ],
    )
    second = [other("3", closed_on="2021-01-01", opened_on="2021-01-01")]
    put(data, source="shop", repairs=[*second, *([job("LOST-883", vehicle_id=CAR)] if with_car else [])])
    put(data, source="shop", repairs=[other("4", closed_on="2022-02-02", opened_on="2022-02-02")])


def traces(data, words=TRACES):
    """Return where a word is found: in the raw bytes of a file, and in the values of every table, frame and text."""
    found = []
    for path in sorted(data.rglob("*")):
        if path.is_dir():
            continue
        raw = path.read_bytes()
        values = raw.decode("utf-8", "replace")
        if path.suffix == ".parquet":
            values = pl.read_parquet(path).write_json()
        elif path.suffix == ".duckdb":
            with duckdb.connect(str(path), read_only=True) as connection:
                names = [n for (n,) in connection.sql("select table_name from duckdb_tables()").fetchall()]
                values = "".join(connection.table(name).pl().write_json() for name in names)
        found += [(path.name, word) for word in words if word in values or word.encode() in raw]
    return found


def assert_good(data):
    wrong = [finding for finding in doctor(data) if not finding.ok]
    assert not wrong, wrong
