"""Which method speaks for a group, and what it says, through closed records."""

from datetime import date, timedelta

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.stock import forecast_stock
from analytics.stock_inputs import handed_on
from tests.fleet import ledger_of

AS_OF = date(2020, 12, 31)
CARS = 12
PARTS = [{"part_no": "H1", "component": "hose", "lead_time_days": 150.0}]
COMPONENTS = [{"component": "hose", "position": "only", "system": "cooling", "safety_critical": False}]


def job(car, days_ago, component="service", reason="planned", action="inspected", **values):
    on = AS_OF - timedelta(days=round(days_ago))
    return {
        "record_id": f"{car} {on}", "vehicle_id": car, "opened_on": on, "closed_on": on, "component": component,
        "reason": reason, "action": action, **values,
    }  # fmt: skip


def hose(car, days_ago, reason="failure", **values):
    return job(car, days_ago, "hose", reason, "replaced", part_no="H1", **values)


def shop(extra=(), *, years=9, cars=CARS, gone=(), parts=PARTS, components=COMPONENTS, every=4, **tables):
    """Cars of one age that come once a year; the hose of each fails every so many years, one car after another."""
    vehicles, repairs = [], list(extra)
    for number in range(cars):
        car, here = f"v{number}", number not in gone
        vehicles.append({"vehicle_id": car, "series": "S1", "built_on": date(1990, 6, 1)})
        last = 0.1 if here else 2.6
        visits = [last + 0.01 * number + k for k in range(years) if last + k < years]
        repairs += [job(car, 365.25 * ago) for ago in visits]
        fails = [last + 0.35 + (number % every) + k * every for k in range(years)]
        repairs += [hose(car, 365.25 * ago) for ago in fails if ago < years - 1]
    lines = [{**row, "line_no": n + 1} for n, row in enumerate(repairs)]
    return ledger_of(vehicles=vehicles, repairs=lines, parts=parts, components=components, **tables)


def forecast(ledger, parameters=None):
    parameters = parameters or Parameters()
    records, care, stock = handed_on(ledger, AS_OF, parameters)
    found = forecast_stock(records, stock, parameters, AS_OF, care)
    return {row["part_no"]: row for row in found.reorder.iter_rows(named=True)}, found.demand


@pytest.fixture(scope="module")
def usual():
    return forecast(shop())


def test_the_installed_base_speaks_and_says_what_it_rests_on(usual):
    row = usual[0]["H1"]
    assert row["method"] == row["basis"] == "installed base"
    assert row["cars"] == row["units"] == CARS
    assert 0.8 * CARS < row["cars_present"] <= CARS
    assert row["reason"].startswith("12 cars that take it may still be in care,")
    assert "expected to fail" in row["reason"]
    assert "most from v" in row["reason"]
    streams = row["failing"] + row["joining"] + row["planned"] + row["counter"]
    assert row["demand_mean"] == pytest.approx(streams, rel=0.15)  # one prior repair may take a pair


def test_whole_distributions_are_kept_for_every_horizon(usual):
    mass = usual[1].group_by("horizon_days").agg(pl.col("probability").sum())
    assert sorted(mass["horizon_days"]) == [30, 90, 180, 365, 730]  # 150 days of delivery and 30 of review are 180
    assert mass["probability"].to_list() == pytest.approx([1.0] * 5)


def test_the_pooled_rate_stands_beside_it(usual):
    alone = forecast_stock(*_only_records(shop()), Parameters(), AS_OF).reorder.row(0, named=True)
    assert usual[0]["H1"]["rate_mean"] == pytest.approx(alone["demand_mean"])
    assert usual[0]["H1"]["rate_point"] == alone["reorder_point"]
    assert alone["method"] == "pooled rate"


def _only_records(ledger):
    records, _, stock = handed_on(ledger, AS_OF, Parameters())
    return records, stock


def test_the_same_records_give_the_same_figures_to_the_last_bit(usual):
    again = forecast(shop())
    assert again[0] == usual[0]
    assert again[1].equals(usual[1])


def test_cars_that_no_longer_come_are_likely_gone_and_none_counts_that_left(usual):
    every, missing = usual[0]["H1"], shop(gone=range(6))
    some_gone = forecast(missing)[0]["H1"]
    assert some_gone["cars"] == CARS
    assert some_gone["cars_present"] < every["cars_present"] - 3
    missing.execute("update vehicles set left_on = date '2019-01-01' where vehicle_id in ('v0', 'v1', 'v2', 'v3')")
    assert forecast(missing)[0]["H1"]["cars"] == CARS - 4


def test_records_younger_than_two_years_go_by_the_rate_and_say_so():
    row = forecast(shop(years=2, every=1))[0]["H1"]
    assert row["method"] == "pooled rate"
    assert row["cars"] is None
    assert "its rate of use speaks, because the records are younger than 2 years" in row["reason"]


def test_a_component_whose_positions_are_not_told_goes_by_the_rate():
    two = [{**COMPONENTS[0], "position": p} for p in ("left", "right")]
    row = forecast(shop(components=two))[0]["H1"]
    assert row["method"] == "pooled rate"
    assert "because no unit of it is known to sit in a car" in row["reason"]


def test_cars_seen_only_for_this_part_go_by_the_rate():
    vehicles = [{"vehicle_id": f"v{n}", "series": "S1"} for n in range(4)]
    lines = [{**hose(f"v{n}", 90 + 400 * k), "line_no": 1} for n in range(4) for k in range(6)]
    row = forecast(ledger_of(vehicles=vehicles, repairs=lines, parts=PARTS))[0]["H1"]
    assert row["method"] == "pooled rate"
    assert "seen only when they take this part" in row["reason"]


@pytest.mark.parametrize(("carless", "by_rate"), [(2, False), (6, True)])
def test_part_invoices_of_which_too_many_name_no_car_go_by_the_rate(carless, by_rate):
    """Rule 38: where more than 30 of 100 records of a part name no car, its cars are not those that need it."""
    vehicles = [{"vehicle_id": f"v{n}", "series": "S1"} for n in range(8)]
    sold = [("H1", 100 + 150 * k, f"v{k % 8}") for k in range(10)] + [
        ("H1", 130 + 150 * k, None) for k in range(carless)
    ]
    sold += [("O1", 60 + 180 * k, f"v{n}") for n in range(8) for k in range(16)]
    sales = [
        {"part_no": part, "sold_on": AS_OF - timedelta(days=ago), "quantity": 1.0, "vehicle_id": car}
        for part, ago, car in sold
    ]
    parts = [*PARTS, {"part_no": "O1", "component": "oil filter"}]
    row = forecast(ledger_of(vehicles=vehicles, sales=sales, parts=parts))[0]["H1"]
    assert ("more than 30 of 100 of its records name no car" in row["reason"]) == by_rate
    assert (row["method"] == "pooled rate") == by_rate
    assert row["sales"] == carless
    assert row["repairs"] == 10


def test_a_part_whose_rate_is_asked_for_goes_by_it():
    row = forecast(shop(parts=[{**PARTS[0], "basis": "rate"}]))[0]["H1"]
    assert (row["method"], row["cars"]) == ("pooled rate", None)
    assert "its rate of use speaks, because the parts list asks for it" in row["reason"]


def test_a_part_never_sold_has_an_answer_from_the_cars_that_have_one(usual):
    more = [*COMPONENTS, {"component": "horn", "position": "only", "system": "electrical", "safety_critical": False}]
    row = forecast(shop(parts=[*PARTS, {"part_no": "N1", "component": "horn"}], components=more))[0]["N1"]
    assert row["method"] == "installed base"
    assert row["repairs"] == 0
    assert 0 < row["demand_mean"] < usual[0]["H1"]["demand_mean"] / 2
    assert "rests on 0 failures, so this is cautious" in row["reason"]
    assert "most from" not in row["reason"]


def test_a_part_without_a_place_on_any_car_has_the_rate_of_its_family():
    components = [
        {**COMPONENTS[0], "family": "rubber"},
        {"component": "seal", "series": "S9", "family": "rubber", "safety_critical": False},
    ]
    row = forecast(shop(parts=[*PARTS, {"part_no": "R1", "component": "seal"}], components=components))[0]["R1"]
    assert row["method"] == row["basis"].removesuffix(", no lead time") == "family rate"
    assert "so the rate of its family speaks" in row["reason"]
    assert row["demand_mean"] > 0


def test_a_part_whose_cars_have_all_left_is_refused_in_words():
    parts = [*PARTS, {"part_no": "G1", "component": "grille", "series": "S9"}]
    row = forecast(shop(parts=parts))[0]["G1"]
    assert (row["method"], row["basis"]) == ("too little to say", "too little to say")
    assert row["reason"] == "Too little to say: no car that takes it has been seen in the last five years."
    assert row["demand_mean"] is row["order_quantity"] is None


def test_planned_work_of_a_campaign_year_is_left_out_and_named():
    """Rule 38: the mean of that part does not count the campaign's planned work for the years to come."""
    campaign = [hose(f"v{n}", 500 + n, "planned") for n in range(10)]
    with_campaign, usual = forecast(shop(campaign))[0]["H1"], forecast(shop())[0]["H1"]
    assert with_campaign["planned"] == pytest.approx(usual["planned"], rel=0.8)
    assert "left out as a campaign: the year to 2020-01-01" in with_campaign["reason"]
    assert with_campaign["reason"].count("campaign:") == 1


def test_a_safety_critical_part_is_foretold_and_names_no_car():
    """Rule 39: demand is told, how long a unit has left is not."""
    critical = [{**COMPONENTS[0], "safety_critical": True}]
    row = forecast(shop(components=critical))[0]["H1"]
    assert row["method"] == "installed base"
    assert "most from" not in row["reason"]


def test_owner_supplied_parts_answer_failures_that_are_no_demand():
    """Rule 38: the installed base counts all failures, the share bought here tells how many are ours."""
    ledger = shop()
    ledger.execute("update repairs set part_origin = 'owner-supplied' where component = 'hose' and vehicle_id >= 'v5'")
    row = forecast(ledger)[0]["H1"]
    assert row["failing"] == pytest.approx(forecast(shop())[0]["H1"]["failing"] * 7 / 12, rel=0.2)


def test_without_lead_time_or_count_it_says_so():
    row = forecast(shop(parts=[{"part_no": "H1", "component": "hose"}]))[0]["H1"]
    assert row["basis"] == "installed base, no lead time"
    assert "no lead time is stated" in row["reason"]
    assert "no stock count is recorded" in row["reason"]
    assert row["order_quantity"] is None
