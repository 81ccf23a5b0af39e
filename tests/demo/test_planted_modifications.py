"""A design that lasts twice as long is seen to help; designs with the same life law are not."""

from tests.snapshot_tables import table


def test_truth_1_the_second_compound_helped_and_no_design_without_a_difference_is_said_to(demo_dir):
    found = {row["component"]: row for row in table(demo_dir, "before_after").iter_rows(named=True)}
    helped = found.pop("flap actuator")
    assert (helped["kind"], helped["modification"], helped["verdict"]) == ("design", "SL-7102", "fewer failures")
    assert helped["upper"] < 0.6
    assert helped["led_to_it"] > 100
    assert set(found) == {"fuel hose", "water pump"}
    assert {row["verdict"] for row in found.values()} <= {"cannot be told", "too few"}


def test_before_and_since_alone_would_have_said_that_the_second_compound_is_worse(demo_dir):
    row = table(demo_dir, "before_after", component="flap actuator").row(0, named=True)
    assert row["after_rate"] > row["before_rate"]
    with_it = 100 * (row["before_failures"] + row["led_to_it"]) / row["before_years"]
    assert with_it > 4 * row["after_rate"]


def test_no_series_or_position_is_said_to_fail_more_often_where_nothing_was_planted(demo_dir):
    pairs = table(demo_dir, "interval_comparison")
    assert pairs["comparisons"][0] > 100
    assert pairs.filter(pairs["adjusted_p"] < 0.05).is_empty()
    intervals = table(demo_dir, "failure_interval")
    assert intervals.filter(intervals["trend"] == "worsening").height <= 2


def test_the_actuators_that_got_the_better_compound_and_no_others_are_said_to_improve(demo_dir):
    """Planted: the second compound, fitted from year 6 of the records on, lasts twice as long."""
    whole = table(demo_dir, "failure_interval", position="all", series="all")
    assert whole.filter(trend="improving")["component"].to_list() == ["flap actuator"]
    row = whole.filter(component="flap actuator").row(0, named=True)
    assert row["yearly_change_upper"] < 1
