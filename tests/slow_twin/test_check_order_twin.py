"""The order of checks and its replay against plain twins, on generated jobs."""

import random
from collections import defaultdict
from datetime import date, timedelta

import pytest

from analytics.parameters import Parameters
from analytics.recurrence.check_order import check_orders
from analytics.recurrence.check_replay import ALPHABETICAL, LAST, RECORDED, THIS, check_replay
from tests.recurrence.causes import WHOLE, causes, facts, job, places
from tests.slow_twin import check_order as twin

P = Parameters()
NAMES = ["coil", "fan", "fuse", "pump", "relay", "valve"]
COVERS = {"coil": "fascia", "fan": "fascia", "fuse": None, "pump": "tunnel", "relay": None, "valve": "tunnel"}
OPENING = {"fascia": 20.0, "tunnel": 12.0}
TREE = places(*((place, None, minutes) for place, minutes in OPENING.items()))
CRITICAL = ["pump"]


def workshop(seed, jobs=60, *, ties=True):
    draw = random.Random(seed)
    minutes = {name: draw.choice([0, 4, 8, 15, 30]) if ties else draw.uniform(2, 30) for name in NAMES}
    rows = []
    for _ in range(jobs):
        on = date(2015, 1, 1) + timedelta(days=draw.randrange(2000))
        told = draw.choice(["hums", "dead"]), draw.choice(["S1", "S2", "S2"]), f"car {draw.randrange(12)}"
        found = draw.sample(NAMES, k=draw.choice([1, 1, 1, 2]))
        if any((r["complaint"], r["series"], r["vehicle_id"], r["came_on"]) == (*told, on) for r in rows):
            continue
        rows += [job(told[0], name, told[1], told[2], on, shared=len(found), stay=draw.randrange(4)) for name in found]
    where = {name: [cover] for name, cover in COVERS.items() if cover}
    return causes(*rows), facts(minutes, ("S1", "S2"), where), minutes


def plain(cause):
    return cause.select("complaint", "series", "component", "weight").rows()


@pytest.mark.parametrize("seed", range(12))
def test_every_ladder_costs_as_little_as_the_best_of_all_orders(seed):
    cause, fact, minutes = workshop(seed, jobs=8 + 6 * seed)
    ladders = defaultdict(list)
    for row in check_orders(cause, fact, TREE, CRITICAL, P).to_dicts():
        ladders[row["complaint"], row["series"]].append(row)
    for (complaint, series), rows in ladders.items():
        chance = twin.chances(plain(cause), complaint, series, P.check_family_jobs, P.check_unseen_jobs, NAMES)
        assert {r["component"]: r["probability"] for r in rows} == pytest.approx(chance)
        gain = {r["component"]: r["probability"] * r["sensitivity"] for r in rows}
        order = [r["component"] for r in rows]
        _, least = twin.best_order(gain, minutes, COVERS, OPENING, CRITICAL)
        assert twin.spent(order, gain, minutes, COVERS, OPENING) == pytest.approx(least, rel=1e-9, abs=1e-9)
        assert rows[-1]["expected_minutes_so_far"] == pytest.approx(least, rel=1e-9, abs=1e-9)
    assert len(ladders) >= 2


def minutes_to(order, causes_of_it, minutes):
    total, opened = 0.0, set()
    for name in order:
        if COVERS[name] and COVERS[name] not in opened:
            opened.add(COVERS[name])
            total += OPENING[COVERS[name]]
        total += minutes[name]
        if name in causes_of_it:
            return total
    raise AssertionError(order)


def replayed(cause, minutes):
    """Every job once more: what each order would have cost, with only the jobs closed before it."""
    rows = cause.to_dicts()
    jobs = defaultdict(set)
    for row in rows:
        jobs[row["came_on"], row["vehicle_id"], row["complaint"], row["series"]].add(row["component"])
    spent = defaultdict(list)
    for (on, _, complaint, series), found in jobs.items():
        before = [r for r in rows if r["closed_on"] < on and r["complaint"] == complaint]
        told = [(r["complaint"], r["series"], r["component"], r["weight"]) for r in before]
        chance = twin.chances(told, complaint, series, P.check_family_jobs, P.check_unseen_jobs, NAMES)
        if len(chance) < 2 or not found & {*chance}:
            continue
        best, _ = twin.best_order(chance, minutes, COVERS, OPENING, CRITICAL)
        first = {n: min(r["closed_on"] for r in before if r["component"] == n) for n in chance}
        last = {n: max(r["closed_on"] for r in before if r["component"] == n) for n in chance}
        orders = {
            THIS: best,
            ALPHABETICAL: sorted(chance, key=lambda n: (n not in CRITICAL, n)),
            RECORDED: sorted(chance, key=lambda n: (n not in CRITICAL, first[n], n)),
            LAST: sorted(chance, key=lambda n: (n not in CRITICAL, -last[n].toordinal(), n)),
        }
        for name, order in orders.items():
            spent[name].append(minutes_to(order, found, minutes))
    return spent


@pytest.mark.parametrize("seed", range(4))
def test_a_replay_knows_only_what_was_closed_before(seed):
    cause, fact, minutes = workshop(100 + seed, ties=False)
    told = {row["checked"]: row for row in check_replay(cause, fact, TREE, CRITICAL, P).to_dicts()}
    for name, spent in replayed(cause, minutes).items():
        assert told[name]["jobs"] == len(spent)
        assert told[name]["minutes"] == pytest.approx(sum(spent) / len(spent)), name
        assert told[name]["minutes_lower"] <= told[name]["minutes"] <= told[name]["minutes_upper"]


def test_weights_of_a_shared_job_add_up_to_one():
    assert all(WHOLE % n == 0 for n in range(1, 11))
