"""Random small fleets: the spells agree with a slow second implementation, and nothing is lost."""

from dataclasses import replace

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.spells.explain import DISTANCE, PAPERS, REPAIR, UNIT, UNWATCHED
from analytics.spells.exposure import exposure as found_exposure
from analytics.spells.history import build_history
from analytics.spells.roles import repair_roles
from tests.slow_twin.age_spells import age_spells, by_position
from tests.slow_twin.returns import came_back
from tests.spells.lives_of import lives_of
from tests.spells.random_fleets import AS_OF, random_fleet
from tests.spells.returns_of import repaired_of

SEEDS = range(25)
KEY = ["vehicle_id", "component", "position", "unit_no", "scale", "entry"]


@pytest.fixture(scope="module")
def fleets():
    found = []
    for seed in SEEDS:
        connection = random_fleet(seed)
        # in two stages, so that the twins find every table of the history
        build_history(connection, AS_OF, Parameters())
        found.append((seed, connection, found_exposure(connection, AS_OF, Parameters())))
    return found


def counted(left_out, kind):
    return left_out.filter(pl.col("kind").str.starts_with(f"{kind}: "))["count"].sum()


def test_the_spells_by_age_agree_with_the_slow_twin(fleets):
    columns = ["vehicle_id", "component", "position", "unit_no", "entry", "exit", "exit_lower", "event", "cause"]
    for seed, connection, exposure in fleets:
        ours = exposure.spell.filter(pl.col("scale") == "age").select(*columns, "age_known").rows()
        assert by_position(sorted(ours)) == by_position(age_spells(connection)), f"fleet {seed}"


def test_the_fleets_hold_every_kind_of_end(fleets):
    causes = set().union(*(exposure.spell["cause"].to_list() for _, _, exposure in fleets))
    assert causes >= {
        "failure",
        "found at inspection",
        "consequence",
        "in passing",
        "planned",
        "modified",
        "window end",
    }
    assert sum(exposure.spell.height for _, _, exposure in fleets) > 500


def test_used_and_left_out_repairs_add_up_to_loaded(fleets):
    for seed, connection, exposure in fleets:
        loaded = connection.table("repair").pl().height
        role = repair_roles(*lives_of(connection, AS_OF, Parameters()))
        used = role.filter(pl.col("ends_unit").is_not_null() | pl.col("starts_unit").is_not_null())
        assert used.height + counted(exposure.left_out, REPAIR) == loaded, f"fleet {seed}"


def test_every_repair_said_to_be_used_is_the_start_or_end_of_a_spell(fleets):
    for seed, connection, exposure in fleets:
        role = repair_roles(*lives_of(connection, AS_OF, Parameters()))
        spells = exposure.spell.filter(pl.col("scale") == "age")
        ends = spells.filter(pl.col("end_record").is_not_null())
        key = ["component", "position", "line_id"]
        told_ends = role.filter(pl.col("ends_unit").is_not_null()).select(key).unique().sort(key)
        true_ends = ends.select("component", "position", line_id="end_record").unique().sort(key)
        assert told_ends.equals(true_ends), f"fleet {seed}"
        told = role.filter(pl.col("starts_unit").is_not_null()).select(key).unique().sort(key)
        starts = spells.filter(pl.col("start_record").is_not_null())
        assert told.equals(starts.select("component", "position", line_id="start_record").unique().sort(key)), seed


def test_used_and_left_out_units_add_up_to_those_known(fleets):
    for seed, connection, exposure in fleets:
        lives, ages, _ = lives_of(connection, AS_OF, Parameters())
        given = ages.pieces[0]["stretch_id"].n_unique()
        assert given + counted(exposure.left_out, UNIT) == lives.stretches.slot.size, f"fleet {seed}"


def test_spells_with_and_without_a_distance_add_up_to_those_by_age(fleets):
    for seed, connection, exposure in fleets:
        given = exposure.spell.filter(pl.col("scale") == "distance").height
        without = sum(counted(exposure.left_out, kind) for kind in DISTANCE.values())
        _, ages, _ = lives_of(connection, AS_OF, Parameters())
        assert given + without == (ages.why_none == 0).sum(), f"fleet {seed}"
        share = exposure.distance_share
        assert share["failed"].sum() + share["censored"].sum() == given + without


def test_used_and_left_out_papers_add_up_to_those_told(fleets):
    for _, connection, exposure in fleets:
        fittings = connection.table("fitting").pl()
        used = fittings.filter(pl.col("fate") == "used").height
        assert used + counted(exposure.left_out, PAPERS) == fittings.height


# wide windows, so that small fleets have returns; few km, so that some lie beyond them
@pytest.mark.parametrize(("days", "km", "least"), [(90, 1500, 1), (900, 4000, 15)])
def test_rule_37_the_repairs_that_come_back_are_those_of_the_slow_twin(fleets, days, km, least):
    back = 0
    for seed, connection, exposure in fleets:
        window = replace(Parameters(), return_days=days, return_km=km)
        ours = {
            (row["record"], row["component"], row["position"]): (
                *(row["why_none"], row["days_watched"], row["days"], row["return_record"], row["km"]),
            )
            for row in repaired_of(connection, AS_OF, window).iter_rows(named=True)
        }
        assert ours == came_back(connection, exposure, AS_OF, days, km), f"fleet {seed}"
        back += sum(days is not None for _, _, days, _, _ in ours.values())
    assert back >= least


def test_used_and_left_out_repairs_that_can_come_back_add_up(fleets):
    for seed, connection, exposure in fleets:
        told = connection.sql("select count(*) from repair where lines > 0").fetchall()[0][0]
        watched = exposure.repaired["why_none"].is_null().sum()
        assert watched + counted(exposure.left_out, UNWATCHED) == told == exposure.repaired.height, f"fleet {seed}"
        assert exposure.repaired["record"].is_duplicated().sum() == 0, f"fleet {seed}"


def test_the_spells_keep_their_contract(fleets):
    for seed, _, exposure in fleets:
        spell = exposure.spell
        assert spell.select(KEY).is_duplicated().sum() == 0, f"fleet {seed}"
        assert (spell["exit"] > spell["entry"]).all()
        assert (spell["entry"] >= 0).all()
        lower = spell.filter(pl.col("exit_lower").is_not_null())
        assert ((lower["exit_lower"] >= lower["entry"]) & (lower["exit_lower"] < lower["exit"])).all()
        assert lower.filter(pl.col("cause") != "found at inspection").is_empty()
        ended = spell.filter(pl.col("cause") == "found at inspection")
        assert ended["exit_lower"].is_not_null().all()
        assert spell.filter(
            (pl.col("event") == 1) != pl.col("cause").is_in(["failure", "found at inspection"])
        ).is_empty()


def test_every_event_is_one_used_fault(fleets):
    for seed, _, exposure in fleets:
        events = exposure.spell.filter((pl.col("scale") == "age") & (pl.col("event") == 1))
        faults = exposure.fault.filter("in_spell")
        assert faults["used"].all()
        key = ["vehicle_id", "component", "position"]
        named = events.select(*key, fault_record="end_record").sort(*key, "fault_record")
        assert named.height >= faults.height
        assert faults.select(*key, "fault_record").join(named, on=[*key, "fault_record"], how="anti").is_empty(), seed


def test_no_key_of_a_snapshot_table_is_written_twice(fleets):
    for seed, _, exposure in fleets:
        for table, key in (
            (exposure.fault, ["fault_record", "component", "position"]),
            (exposure.unit_now, ["vehicle_id", "component", "position"]),
            (exposure.record, ["record"]),
            (exposure.reading, ["vehicle_id", "read_on", "seen_at"]),
            (exposure.watch, ["vehicle_id", "component", "position"]),
        ):
            assert table.select(key).is_duplicated().sum() == 0, f"fleet {seed}: {key}"
