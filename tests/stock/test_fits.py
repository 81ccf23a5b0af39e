"""Which part fits which car: series, serials, build dates; look-alikes; records of parts on cars they do not fit."""

from datetime import date, timedelta

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.fitting import TOLD_BY
from analytics.serials import within
from analytics.stock.fits import NO, UNKNOWN, YES, fits_of

ROWS = [
    {"part_no": "T1", "series": "S2", "serial_from": None, "serial_to": "B-1199"},
    {"part_no": "T2", "series": "S2", "serial_from": "B-1200", "serial_to": None},
    {"part_no": "T3", "series": "S2", "serial_from": "B-1200", "serial_to": "B-1299"},
    {"part_no": "T4", "series": "S3", "serial_from": None, "serial_to": None},
    {"part_no": "T5", "series": None, "serial_from": None, "serial_to": None},
]
PARTS = pl.DataFrame(ROWS, schema=dict.fromkeys(("part_no", "series", "serial_from", "serial_to"), pl.String))
CARS_SCHEMA = {"vehicle_id": pl.String, "series": pl.String, "serial": pl.String, "built_on": pl.Date} | {
    "inferred": pl.String
}


def cars(*rows):
    return pl.DataFrame(
        [(f"v{n}", *row, *(None,) * (4 - len(row))) for n, row in enumerate(rows)], schema=CARS_SCHEMA, orient="row"
    )


def told(fits, part, car):
    return int(fits.code[part, car]), TOLD_BY[fits.by[part, car]]


def test_a_serial_tells_it_and_a_series_where_no_serial_is_asked_for():
    fits = fits_of(PARTS, cars(("S2", "B-900"), ("S2", "B-1199"), ("S2", "B-1200"), ("S2", "B-1300"), ("S3", "B-1250")))
    assert fits.code.tolist() == [[1, 1, 0, 0, 0], [0, 0, 1, 1, 0], [0, 0, 1, 0, 0], [0, 0, 0, 0, 1], [1, 1, 1, 1, 1]]
    assert told(fits, 0, 1) == (YES, "serial")
    assert told(fits, 0, 4) == (NO, "series")
    assert told(fits, 3, 4) == (YES, "series")
    assert told(fits, 4, 0) == (YES, "no limit")


DATED = [
    ("S2", "B-1000", date(1975, 1, 10)),
    ("S2", "B-1190", date(1976, 3, 1)),
    ("S2", "B-1210", date(1976, 5, 1)),
    ("S2", "B-1290", date(1977, 2, 1)),
    ("S2", "B-1310", date(1977, 4, 1)),
]


@pytest.mark.parametrize(
    ("built", "first", "second"),
    [
        (date(1975, 6, 1), YES, NO),
        (date(1976, 3, 1), YES, NO),
        (date(1976, 4, 1), UNKNOWN, UNKNOWN),
        (date(1976, 5, 1), NO, YES),
        (date(1980, 1, 1), NO, YES),
        (None, UNKNOWN, UNKNOWN),
    ],
)
def test_without_a_serial_the_build_dates_of_the_other_cars_tell_it(built, first, second):
    fits = fits_of(PARTS, cars(*DATED, ("S2", None, built)))
    assert (int(fits.code[0, 5]), int(fits.code[1, 5])) == (first, second)
    assert told(fits, 0, 5)[1] == ("nothing" if first == UNKNOWN else "build date")


def test_a_range_with_two_ends_asks_for_both():
    codes = [
        int(fits_of(PARTS, cars(*DATED, ("S2", None, built))).code[2, 5])
        for built in (date(1976, 1, 1), date(1976, 4, 1), date(1976, 9, 1), date(1977, 3, 1), date(1977, 9, 1))
    ]
    assert codes == [NO, UNKNOWN, YES, UNKNOWN, NO]


def test_the_bounds_are_those_of_the_cars_next_to_the_end():
    bounds = fits_of(PARTS, cars(*DATED)).bounds.row(2, named=True)
    assert bounds == {
        "before_from": date(1976, 3, 1),
        "since_from": date(1976, 5, 1),
        "until_to": date(1977, 2, 1),
        "after_to": date(1977, 4, 1),
    }
    assert set(fits_of(PARTS, cars(*DATED)).bounds.row(4)) == {None}


def test_a_bare_year_may_be_either_side_of_its_middle():
    """1976 stands for 1 July 1976: the car may be of January or of December."""
    fits = fits_of(
        PARTS, cars(*DATED, ("S2", None, date(1976, 7, 1), "built_on"), ("S2", None, date(1978, 7, 1), "built_on"))
    )
    assert [int(fits.code[1, car]) for car in (5, 6)] == [UNKNOWN, YES]


def test_cars_that_contradict_each_other_leave_more_open():
    """A late car with an early serial: what lies between is not told any more."""
    odd = ("S2", "B-1001", date(1978, 1, 1))
    fits = fits_of(PARTS, cars(*DATED, odd, ("S2", None, date(1977, 1, 1)), ("S2", None, date(1978, 2, 1))))
    assert [int(fits.code[1, car]) for car in (6, 7)] == [UNKNOWN, YES]


def test_a_serial_of_another_kind_tells_nothing():
    fits = fits_of(PARTS, cars(*DATED, ("S2", "K-7"), ("S2", "K-8", date(1970, 1, 1))))
    assert told(fits, 1, 5) == (UNKNOWN, "nothing")
    assert told(fits, 1, 6) == (NO, "build date")


ENDS = st.one_of(st.none(), st.integers(0, 60).map(lambda n: f"B-{n}"))


@given(
    st.lists(st.integers(0, 60), min_size=1, max_size=12),
    st.lists(st.integers(0, 60), max_size=6),
    ENDS,
    ENDS,
    st.randoms(use_true_random=False),
)
def test_where_serials_rise_with_the_build_date_no_answer_is_wrong(known, asked, first, last, random):
    """Twin: one serial at a time. A car without serial is answered from its build date rightly, or not at all."""
    start = date(1970, 1, 1)
    filled = [random.random() < 0.3 for _ in known]
    rows = [
        ("S2", f"B-{n}", date((start + timedelta(days=40 * n)).year, 7, 1) if bare else start + timedelta(days=40 * n))
        + (("built_on",) if bare else (None,))
        for n, bare in zip(known, filled, strict=True)
    ]
    rows += [("S2", None, start + timedelta(days=40 * n), None) for n in asked]
    part = pl.DataFrame(
        [{"part_no": "P", "series": "S2", "serial_from": first, "serial_to": last}], schema=PARTS.schema
    )
    fits = fits_of(part, cars(*rows).with_columns(vehicle_id=pl.int_range(len(rows)).cast(pl.String).str.zfill(3)))
    for car, number in enumerate([*known, *asked]):
        truth = within(f"B-{number}", first, last)
        if car < len(known) or first is last is None:
            assert fits.code[0, car] == truth
        else:
            assert fits.code[0, car] in (truth, UNKNOWN)
