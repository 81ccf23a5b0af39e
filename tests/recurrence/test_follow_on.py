"""What fails next: declared pairs, families of tests, what is renewed together, thin and empty fleets."""

from datetime import date, timedelta

import polars as pl
import pytest
from statsmodels.stats.multitest import multipletests

from analytics.parameters import Parameters
from analytics.recurrence.declared_pairs import STATED, named_causes
from analytics.recurrence.follow_on import follow_on
from analytics.recurrence.numbered_faults import FollowOnRecords
from tests.truth.follow_on_fleets import LAST_DAY, World, day_of, fleet

FAULT = {
    "vehicle_id": pl.String,
    "visit_day": pl.Date,
    "component": pl.String,
    "reads_as": pl.String,
    "why_unused": pl.String,
    "fault_record": pl.String,
}
LINE = {
    "vehicle_id": pl.String,
    "visit_day": pl.Date,
    "component": pl.String,
    "renews": pl.Boolean,
    "reason": pl.String,
    "cause": pl.String,
}
START = date(2015, 1, 1)


def fault(car, day, component, reads_as="failure", cause=""):
    return car, START + timedelta(day), component, reads_as, cause


def told(faults, renewed=(), critical=(), stated=()):
    """Return what comes of faults, all visits of a day, of what else was renewed then, and of what is stated."""
    seen = [(car, day, what, reads, None, f"{car}/{n}") for n, (car, day, what, reads, _) in enumerate(faults)]
    lines = [(car, day, what, True, reads, cause) for car, day, what, reads, cause in faults]
    lines += [(car, START + timedelta(day), what, True, "changed in passing", "") for car, day, what in renewed]
    days = sorted({(car, day) for car, day, *_ in lines})
    records = FollowOnRecords(
        fault=pl.DataFrame(seen, FAULT, orient="row"),
        line=pl.DataFrame(lines, LINE, orient="row"),
        visit=pl.DataFrame(
            [(car, day, day) for car, day in days],
            {"vehicle_id": pl.String, "day": pl.Date, "closed_on": pl.Date},
            orient="row",
        ),
        vehicle=pl.DataFrame(schema={"vehicle_id": pl.String, "left_on": pl.Date}),
        facts=pl.DataFrame(
            {"component": list(critical), "safety_critical": [True] * len(critical)},
            {"component": pl.String, "safety_critical": pl.Boolean},
        ),
        stated=pl.DataFrame(list(stated), STATED, orient="row"),
    )
    return follow_on(records, Parameters(), date(2024, 1, 1))


def row(found, first, then):
    return found.follow_on.row(by_predicate=(pl.col("first") == first) & (pl.col("then") == then), named=True)


def in_order(cars, first="pump", then="valve", gap=50, apart=200):
    """Faults of so many cars, each at a time of its own, so that no calendar favours an order."""
    return [
        each
        for n in range(cars)
        for each in (fault(f"{first}{n}", apart * n, first), fault(f"{first}{n}", apart * n + gap, then))
    ]


def test_fewer_than_five_cars_are_not_tested():
    found = row(told(in_order(4)), "pump", "valve")
    assert (found["status"], found["p_value"], found["adjusted_p"]) == ("too few", None, None)
    assert row(told(in_order(5)), "pump", "valve")["p_value"] == pytest.approx(1 / 32)


def test_rule_37_p_values_are_adjusted_over_all_rows_with_five_cars_as_a_general_library_does():
    table = follow_on(fleet(World(cars=60), 3), Parameters(), day_of(LAST_DAY)).follow_on
    made = table.filter(pl.col("n_first_then") + pl.col("n_then_first") >= 5)
    assert made.height > 50
    assert (table.height - made.height) == table["p_value"].null_count()
    assert made["adjusted_p"].to_list() == pytest.approx(multipletests(made["p_value"], method="fdr_bh")[1])
    assert made["tests"].unique().to_list() == [made.height]


def test_a_pair_declared_on_one_order_is_tested_alone_on_all_its_cars():
    beside = [fault("x", 2500, "pump"), fault("x", 2500, "valve", "consequence")]
    others = in_order(7, "hose", "cap", apart=210) + in_order(8, "rack", "boot", apart=230)
    found = told(in_order(6) + beside + others)
    ahead = row(found, "pump", "valve")
    assert (ahead["declared"], ahead["told_by"], ahead["set_apart"], ahead["tests"]) == (True, 1, 0, 1)
    assert ahead["adjusted_p"] == ahead["p_value"] == pytest.approx(1 / 64)
    back = row(found, "valve", "pump")
    assert (back["declared"], back["tests"]) == (False, 5)


def test_a_pair_declared_by_the_pairs_it_is_tested_on_loses_the_first_of_them():
    said = [fault("x", 0, "pump"), fault("x", 30, "valve", "consequence")]
    found = told(in_order(6) + said)
    ahead = row(found, "pump", "valve")
    assert (ahead["n_first_then"], ahead["set_apart"], ahead["declared"]) == (7, 1, True)
    assert ahead["p_value"] == pytest.approx(ahead["expected_share"] ** 6)
    assert found.pairs.filter("told")["vehicle_id"].to_list() == ["x"]
    # with that pair alone above the least number of cars, there is no test
    assert row(told(in_order(4) + said), "pump", "valve")["status"] == "too few"


def test_a_pair_stated_beforehand_is_tested_alone_on_all_its_cars_whatever_records_say():
    said = [fault("x", 0, "pump"), fault("x", 30, "valve", "consequence")]
    others = in_order(7, "hose", "cap", apart=210) + in_order(8, "rack", "boot", apart=230)
    found = told(in_order(6) + said + others, stated=[("pump", "valve"), ("rack", "hose")])
    ahead = row(found, "pump", "valve")
    assert (ahead["declared"], ahead["stated"], ahead["told_by"], ahead["set_apart"]) == (True, True, 1, 0)
    assert ahead["p_value"] == pytest.approx(ahead["expected_share"] ** 7)
    assert ahead["adjusted_p"] == ahead["p_value"]
    assert not row(found, "valve", "pump")["declared"]
    # a pair that is stated and never came is no test
    assert ahead["tests"] == 1
    assert found.follow_on.filter("stated").height == 1


def test_a_stated_component_that_nothing_else_names_is_told():
    found = told(in_order(6), stated=[("pump", "vlave"), ("pump", "valve")], critical=["valve"])
    assert found.left_out["says"].to_list() == ["that pair is not tested; write components alike: vlave"]
    assert found.left_out.select("count", "out_of").row(0) == (1, 2)


def test_where_two_causes_come_into_question_none_is_declared():
    both = [fault("x", 0, "pump"), fault("x", 10, "hose"), fault("x", 30, "valve", "consequence")]
    assert not told(in_order(6) + both).follow_on["declared"].any()
    # a cause on the same order leaves earlier faults out of question
    beside = [*both, fault("x", 30, "cap")]
    assert row(told(in_order(6, "cap") + beside), "cap", "valve")["declared"]
    assert not row(told(in_order(6) + beside), "pump", "valve")["declared"]


def test_the_words_of_the_cause_decide_where_they_name_a_component():
    named = [
        fault("x", 0, "pump"),
        fault("x", 10, "hose"),
        fault("x", 30, "valve", "consequence", "Damaged by the PUMP, torn"),
    ]
    found = told(in_order(6) + named)
    assert found.follow_on.filter("declared").select("first", "then").rows() == [("pump", "valve")]
    assert row(found, "pump", "valve")["set_apart"] == 1


@pytest.mark.parametrize(
    ("cause", "by"),
    [
        ("harmed by the water-pump", "water pump"),
        ("pump", "pump"),
        ("water pump and hose", None),
        ("bumpy road", None),
        ("the valve itself", None),
        ("", None),
        (None, None),
    ],
)
def test_a_cause_names_one_component_or_none(cause, by):
    causes = pl.DataFrame(
        {"vehicle_id": ["x"], "visit_day": [START], "component": ["valve"], "cause": [cause]},
        schema_overrides={"cause": pl.String},
    )
    found = named_causes(causes, pl.Series(["pump", "water pump", "hose", "valve"]))
    assert found["by"].to_list() == ([by] if by else [])


def test_where_the_first_is_often_renewed_with_the_second_its_order_tells_nothing():
    # at two of ten failures of the valve the pump was renewed: pumps then seldom fail after valves
    alone = [(f"v{n}", 300 * n, "pump") for n in range(2)]
    valves = [fault(f"v{n}", 300 * n, "valve") for n in range(2)]
    found = told(in_order(8) + valves, alone)
    assert row(found, "pump", "valve")["status"] == "renewed together"
    assert row(found, "pump", "valve")["p_value"] is None
    assert row(found, "valve", "pump")["status"] == "ok"
    assert row(told(in_order(8)), "pump", "valve")["status"] == "ok"


def test_safety_critical_components_are_marked():
    found = told(in_order(5), critical=["valve"])
    assert row(found, "pump", "valve")["then_safety_critical"]
    assert not row(found, "pump", "valve")["first_safety_critical"]


@pytest.mark.parametrize("faults", [[], in_order(1)[:1], [fault("x", 0, "none")]])
def test_a_fleet_without_pairs_gives_empty_tables(faults):
    found = told(faults)
    assert found.follow_on.is_empty()
    assert found.pairs.is_empty()
    assert found.left_out.is_empty()


def test_one_component_after_itself_is_no_pair():
    assert told([fault("x", 0, "pump"), fault("x", 40, "pump")]).follow_on.is_empty()
