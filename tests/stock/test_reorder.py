"""Rule 38's pooled rate, and the order that follows from it."""

import math
from datetime import date, timedelta

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.records.feed import PARTS, SALES, STOCK
from analytics.stock import StockRecords, forecast_stock

AS_OF = date(2020, 12, 31)


def table(declared, rows):
    return pl.DataFrame([{**dict.fromkeys(declared.names), **row} for row in rows], schema=declared.schema)


def line(number, car="a", days_ago=100, **values):
    return {
        "order_id": f"o{number}",
        "vehicle_id": car,
        "closed_on": AS_OF - timedelta(days=days_ago),
        "component": "hose",
        "part_no": "H1",
        "fitted_instead_of": None,
        "part_origin": "new",
        "reads_as": "failure",
        "quantity": 1.0,
        "part_used": True,
        **values,
    }


LINE_SCHEMA = {
    "order_id": pl.String,
    "vehicle_id": pl.String,
    "closed_on": pl.Date,
    "component": pl.String,
    "part_no": pl.String,
    "fitted_instead_of": pl.String,
    "part_origin": pl.String,
    "reads_as": pl.String,
    "quantity": pl.Float64,
    "part_used": pl.Boolean,
}


def records(lines, cars=("a", "b", "c", "d", "e", "f", "g", "h"), parts=None, sales=()):
    """Every car is seen each half year over six years."""
    visits = [(car, AS_OF - timedelta(days=30 + 182 * k)) for car in cars for k in range(12)]
    return StockRecords(
        lines=pl.DataFrame(lines, schema=LINE_SCHEMA),
        visits=pl.DataFrame(visits, schema={"vehicle_id": pl.String, "day": pl.Date}, orient="row"),
        vehicles=pl.DataFrame(
            {"vehicle_id": list(cars), "series": ["S1"] * len(cars), "left_on": [None] * len(cars)},
            schema={"vehicle_id": pl.String, "series": pl.String, "left_on": pl.Date},
        ),
        parts=table(
            PARTS,
            parts
            if parts is not None
            else [{"part_no": "H1", "component": "hose", "lead_time_days": 60.0, "pack_size": 2, "minimum_order": 1}],
        ),
        sales=table(SALES, sales),
    )


def counted(on_hand, **values):
    return table(STOCK, [{"part_no": "H1", "counted_on": AS_OF, "on_hand": on_hand, **values}])


def reorder(lines, stock=None, parameters=None, **fleet):
    empty = table(STOCK, [])
    result = forecast_stock(
        records(lines, **fleet), empty if stock is None else stock, parameters or Parameters(), AS_OF
    )
    return {row["part_no"]: row for row in result.reorder.iter_rows(named=True)}, result.demand


LINES = [line(n, car="abcdefgh"[n % 8], days_ago=40 + 100 * n) for n in range(16)]

BUSY = [line(n, car="abcdefgh"[n % 8], days_ago=20 + 45 * n) for n in range(40)]
"""About two parts in 90 days: not more than four in 9 of 10 cases (Poisson law of mean 2)."""


def test_rule_38_the_pooled_rate_counts_repairs_over_active_car_years():
    rows, demand = reorder(LINES)
    row = rows["H1"]
    assert row["basis"] == "rate"
    assert row["repairs"] == 16
    assert row["car_years"] == pytest.approx(8 * 5.0)
    mean_years = (60 + 30) / 365.25
    assert row["demand_mean"] == pytest.approx(8 * mean_years * 16.5 / 40, rel=0.03)  # one prior repair may be a pair
    mass = demand.filter(pl.col("horizon_days") == row["horizon_days"]).sort("quantity")
    assert mass["probability"].sum() == pytest.approx(1)
    cumulated = mass["probability"].cum_sum()
    assert cumulated[row["p90"]] >= 0.9
    assert cumulated[row["p90"] - 1] < 0.9
    assert row["reorder_point"] == row["p90"]


def test_rule_38_owner_supplied_used_and_credited_parts_are_no_demand():
    extra = [
        line(90, part_origin="owner-supplied"),
        line(91, part_origin="used"),
        line(92, part_used=False, quantity=-1.0),
    ]
    assert reorder(LINES + extra)[0]["H1"]["repairs"] == 16


def test_rule_38_a_part_fitted_because_ours_was_out_of_stock_is_demand_for_ours():
    extra = [line(90, part_no="X9", part_origin="used", fitted_instead_of="H1")]
    assert reorder(LINES + extra)[0]["H1"]["repairs"] == 17


def test_rule_38_a_campaign_year_is_left_out_with_its_car_years_and_named():
    campaign = [line(50 + n, car="abcdefgh"[n], days_ago=500, reads_as="planned") for n in range(4)]
    row = reorder(LINES + campaign)[0]["H1"]
    assert row["car_years"] == pytest.approx(8 * 4.0)
    assert row["repairs"] == sum(1 for n in range(16) if not 365 < 40 + 100 * n <= 730)
    assert "left out as a campaign: the year to 2020-01-01" in row["reason"]


def test_two_planned_cars_are_no_campaign():
    planned = [line(50 + n, car="ab"[n], days_ago=500, reads_as="planned") for n in range(2)]
    assert reorder(LINES + planned)[0]["H1"]["car_years"] == pytest.approx(8 * 5.0)


def test_counter_sales_and_lost_sales_are_demand():
    sold = [
        {"part_no": "H1", "sold_on": AS_OF - timedelta(days=30 * n), "quantity": 1.0, "lost": n % 2 == 0}
        for n in range(1, 13)
    ]
    assert reorder(LINES, sales=sold)[0]["H1"]["demand_mean"] > reorder(LINES)[0]["H1"]["demand_mean"] + 1


@pytest.mark.parametrize(("on_hand", "quantity"), [(0.0, 4), (1.0, 4), (2.0, 2), (3.0, 2), (4.0, 0), (40.0, 0)])
def test_the_order_is_the_least_number_of_whole_packs_that_reaches_the_point(on_hand, quantity):
    rows, _ = reorder(BUSY, stock=counted(on_hand))
    assert rows["H1"]["reorder_point"] == 4
    assert rows["H1"]["order_quantity"] == quantity


def test_what_is_on_order_counts_only_when_due_and_what_is_reserved_is_gone():
    late = counted(2.0, on_order=4.0, on_order_due=AS_OF + timedelta(days=200))
    soon = counted(2.0, on_order=4.0, on_order_due=AS_OF + timedelta(days=20))
    held = counted(4.0, reserved=3.0)
    assert [reorder(BUSY, stock=s)[0]["H1"]["order_quantity"] for s in (late, soon, held)] == [2, 0, 4]


def test_only_the_newest_count_up_to_the_day_counts():
    stock = pl.concat(
        [
            counted(0.0).with_columns(counted_on=pl.lit(AS_OF - timedelta(days=9))),
            counted(40.0),
            counted(0.0).with_columns(counted_on=pl.lit(AS_OF + timedelta(days=9))),
        ]
    )
    assert reorder(LINES, stock=stock)[0]["H1"]["on_hand"] == 40


def test_an_order_is_cut_to_what_is_used_before_it_ages():
    parts = [
        {
            "part_no": "H1",
            "component": "hose",
            "lead_time_days": 60.0,
            "pack_size": 1,
            "minimum_order": 50,
            "shelf_life_months": 24.0,
        }
    ]
    quantity = reorder(LINES, stock=counted(0.0), parts=parts)[0]["H1"]["order_quantity"]
    assert 1 <= quantity < 10


def test_without_counts_or_lead_time_it_says_so_in_words():
    row = reorder(LINES, parts=[{"part_no": "H1", "component": "hose"}])[0]["H1"]
    assert row["order_quantity"] is None
    assert row["basis"] == "rate, no lead time"
    assert "no lead time is stated" in row["reason"]
    assert "no stock count is recorded" in row["reason"]


def test_a_part_no_car_takes_is_refused_in_words():
    parts = [{"part_no": "Z1", "component": "pump", "series": "S9", "lead_time_days": 10.0}]
    row = reorder(LINES, parts=parts)[0]["Z1"]
    assert row["basis"] == "too little to say"
    assert row["reorder_point"] is None
    assert row["reason"].startswith("Too little to say:")


def test_a_part_never_used_gets_an_answer_with_its_own_uncertainty():
    parts = [{"part_no": "Z1", "component": "pump", "lead_time_days": 60.0}]
    row = reorder(LINES, parts=parts)[0]["Z1"]
    assert row["repairs"] == 0
    assert 0 < row["demand_mean"] < 0.2
    assert row["reason"].startswith("no repair took it in 40 car-years, and 8 cars are active: fewer than 0.1 ")


def test_superseded_numbers_are_one_group_and_look_alikes_are_listed():
    parts = [
        {"part_no": "H1", "component": "hose", "superseded_by": "H2", "looks_like": "K7"},
        {"part_no": "H2", "component": "hose", "lead_time_days": 60.0},
    ]
    rows, _ = reorder(LINES, parts=parts)
    assert set(rows) == {"H2"}
    assert rows["H2"]["repairs"] == 16
    assert rows["H2"]["looks_like"] == "K7"


def test_a_look_alike_is_warned_of_whichever_of_the_two_numbers_says_so():
    parts = [
        {"part_no": "H1", "component": "hose", "superseded_by": "H2", "looks_like": "K7"},
        {"part_no": "H2", "component": "hose", "looks_like": "H1"},
        {"part_no": "K7", "component": "hose"},
        {"part_no": "K8", "component": "hose", "looks_like": "K7; K9"},
    ]
    rows, _ = reorder(LINES, parts=parts)
    assert {part: row["looks_like"] for part, row in rows.items()} == {"H2": "K7", "K7": "H1; K8", "K8": "K7; K9"}


def test_a_number_that_the_catalogue_does_not_know_is_a_group_of_its_own():
    rows, _ = reorder([*LINES, line(99, part_no="U1")])
    assert rows["U1"]["repairs"] == 1
    assert rows["U1"]["components"] == "hose"


def test_no_record_at_all_gives_no_row():
    assert forecast_stock(records([], parts=[]), table(STOCK, []), Parameters(), AS_OF).reorder.is_empty()


HOSE = {"part_no": "H1", "component": "hose", "lead_time_days": 60.0}
FINITE = ("demand_mean", "p50", "p99", "reorder_point", "order_quantity")


@pytest.mark.parametrize("quantity", [10_000.0, 100_000.0, 1e308])
def test_one_line_of_a_huge_quantity_is_named_with_its_order(quantity):
    rows, demand = reorder([*LINES, line(99, days_ago=50, quantity=quantity)], stock=counted(0.0))
    row = rows["H1"]
    assert all(math.isfinite(row[name]) for name in FINITE)
    assert f"one repair of {int(min(quantity, 100_000)):,} (order o99) makes most of this demand" in row["reason"]
    assert demand.group_by("horizon_days").agg(pl.col("probability").sum())["probability"].to_list() == pytest.approx(
        [1.0] * demand["horizon_days"].n_unique()
    )


def test_ordinary_quantities_are_not_called_huge():
    assert "makes most" not in reorder([*LINES, line(99, quantity=4.0)])[0]["H1"]["reason"]


@pytest.mark.parametrize("review_days", [1, 730, 10**22])
def test_any_review_period_has_an_answer(review_days):
    row = reorder(LINES, stock=counted(0.0), parameters=Parameters(review_days=review_days))[0]["H1"]
    assert all(math.isfinite(row[name]) for name in FINITE)
    assert ("are not told apart" in row["reason"]) == (review_days > 730)


@pytest.mark.parametrize(("level", "said"), [(0.999, "99.9 of"), (1 - 1e-15, "99.9999 of"), (1.0, "99.9999 of")])
def test_a_level_of_service_near_one_has_an_answer_and_says_which_level_was_used(level, said):
    row = reorder(LINES, stock=counted(0.0), parameters=Parameters(service_level=level))[0]["H1"]
    assert row["p99"] <= row["reorder_point"] < 40
    assert f"in {said} 100 cases no more than {row['reorder_point']}" in row["reason"]
    assert ("cannot be told" in row["reason"]) == (level > 0.999)


@pytest.mark.parametrize("figure", [-1e308, 1e308])
def test_figures_beyond_sense_in_parts_stock_and_sales_give_finite_answers(figure):
    beyond = ("lead_time_days", "lead_time_p90_days", "shelf_life_months")
    parts = [{**HOSE, **dict.fromkeys(beyond, figure), "pack_size": 2**62, "minimum_order": 2**62}]
    stock = pl.concat([counted(figure, reserved=-figure, on_order=figure)] * 2)
    sold = [{"part_no": "H1", "sold_on": AS_OF - timedelta(days=9), "quantity": figure}] * 2
    row = reorder(LINES, stock=stock, parts=parts, sales=sold)[0]["H1"]
    assert all(math.isfinite(row[name]) for name in (*FINITE, "on_hand", "on_order", "reserved", "horizon_days"))


def test_numbers_in_a_circle_are_ordered_under_the_smallest_and_the_reason_says_so():
    ring = [("H1", "H0"), ("H0", "H2"), ("H2", "H1")]
    parts = [{**HOSE, "part_no": one, "superseded_by": after} for one, after in ring]
    rows, _ = reorder(LINES, parts=parts)
    assert set(rows) == {"H0"}
    assert rows["H0"]["repairs"] == 16
    assert "in a circle, so H0 is taken as the one on sale: correct superseded_by" in rows["H0"]["reason"]
    assert "circle" not in reorder(LINES)[0]["H1"]["reason"]
