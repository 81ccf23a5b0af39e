"""Work killed with ``kill -9`` at any instant: nothing half, nothing acknowledged lost, the same work again completes.

Instants are drawn uniformly over the time the whole work takes (seed 20261125), or, where the interesting windows are
narrow, taken one by one: before the first operation on a file of the data folder, before the second, and so on.
"""

import os
import random
from concurrent.futures import ThreadPoolExecutor
from statistics import median

import pytest

from tests.ledger.feeds import CAR, job, rows_of
from tests.ledger.killing import Workers, assert_good, fresh, image

pytestmark = pytest.mark.skipif(os.name == "nt", reason="a process cannot be forked and killed at once there")

SEED = 20261125
LOADS_KILLED = 100
OTHERS_KILLED = 8
MOST_OPERATIONS = 200
AT_ONCE = 2


def write(folder, **tables):
    folder.mkdir()
    for name, rows in tables.items():
        rows_of(name, rows).drop("file", "row_no").write_csv(folder / f"{name}.csv")
    return folder


@pytest.fixture(scope="module")
def workers():
    started = [Workers() for _ in range(AT_ONCE)]
    yield started
    for each in started:
        each.close()


@pytest.fixture(scope="module")
def first_feed(tmp_path_factory):
    orders = [job(str(number)) for number in range(60)]
    return write(
        tmp_path_factory.mktemp("first") / "feed", vehicles=[CAR], repairs=[*orders, job("q", action="polish")]
    )


@pytest.fixture(scope="module")
def second_feed(tmp_path_factory):
    """Revises every other line, repeats the rest, mends one and brings 300 lines of a new car, some of them dirty."""
    revised = [job(str(number), cost="5" if number % 2 else None) for number in range(60)]
    new = [job(str(number), vehicle_id="B", odometer="x" if number % 9 == 0 else "7") for number in range(100, 400)]
    dirty = [job("r", closed_on="31.02.2020"), job("s", vehicle_id="nobody's")]
    cars = [CAR, {**CAR, "vehicle_id": "B"}]
    orders = [*revised, job("q", action="cleaned"), *new, *dirty]
    return write(tmp_path_factory.mktemp("second") / "feed", vehicles=cars, repairs=orders)


@pytest.fixture(scope="module")
def held(workers, first_feed, tmp_path_factory):
    data = tmp_path_factory.mktemp("held") / "data"
    assert workers[0].run("load", data, str(first_feed))["done"] == 1
    return data


@pytest.fixture(scope="module")
def busy(workers, held, second_feed, tmp_path_factory):
    """Two loads, one withdrawn order, one snapshot."""
    data = fresh(held, tmp_path_factory.mktemp("busy") / "data")
    for order in (("load", str(second_feed)), ("withdraw", "3"), ("analyse",)):
        assert "done" in workers[0].run(order[0], data, *order[1:])
    return data


def whole(worker, before, data, do, *arguments):
    """Return how long the work takes and what is there afterwards."""
    took = [worker.run(do, fresh(before, data), *arguments) for _ in range(3)]
    assert all("done" in each for each in took), took
    return median(each["took"] for each in took), image(data)


def kill_and_repeat(worker, before, data, do, *arguments, seconds=0.0, operation=0, states):
    """Kill the work once; check what is left, do it again, and check that it ends as if it had never been killed."""
    old, new = states
    told = worker.run(do, fresh(before, data), *arguments, seconds=seconds, operation=operation)
    assert "failed" not in told, told
    left = old
    if old is not None or "done" in told:
        left = image(data)
        assert left in (old, new), "half of the work is there"
        assert_good(data)
    if "done" in told:
        assert left == new, "acknowledged, and lost"
    if left != old and do in {"undo", "withdraw"}:
        copy = fresh(data, data.with_name("built again"))
        assert "done" in worker.run("rebuild", copy)
        assert image(copy) == new, "the journal does not tell of it"
    again = worker.run(do, data, *arguments)
    assert "done" in again or (left == new and old != new), again
    assert image(data) == new
    assert_good(data)
    return told["killed"], left == new


def test_a_hundred_loads_killed_at_random_instants(workers, held, second_feed, tmp_path):
    feed = str(second_feed)
    took, new = whole(workers[0], held, tmp_path / "whole", "load", feed)
    states = (image(held), new)
    chance = random.Random(SEED)
    instants = [chance.uniform(0, took) for _ in range(LOADS_KILLED)]

    def kill(each):
        return [
            kill_and_repeat(workers[each], held, tmp_path / str(each), "load", feed, seconds=instant, states=states)
            for instant in instants[each::AT_ONCE]
        ]

    with ThreadPoolExecutor(AT_ONCE) as threads:
        outcomes = [outcome for part in threads.map(kill, range(AT_ONCE)) for outcome in part]
    assert len(outcomes) == LOADS_KILLED
    assert sum(killed for killed, _ in outcomes) > LOADS_KILLED * 0.8


@pytest.mark.parametrize(
    ("do", "arguments"),
    [("undo", [1]), ("withdraw", ["4"]), ("rebuild", []), ("analyse", [])],
    ids=lambda each: str(each),
)
def test_other_work_killed_at_random_instants(workers, busy, tmp_path, do, arguments):
    took, new = whole(workers[0], busy, tmp_path / "whole", do, *arguments)
    chance = random.Random(SEED)
    for _ in range(OTHERS_KILLED):
        seconds = chance.uniform(0, took)
        kill_and_repeat(workers[0], busy, tmp_path / "data", do, *arguments, seconds=seconds, states=(image(busy), new))


def at_every_operation(worker, before, data, do, *arguments, old):
    """Kill the work before its first operation on a file, its second and so on, until it ends by itself."""
    new = whole(worker, before, data, do, *arguments)[1]
    for operation in range(1, MOST_OPERATIONS):
        killed, _ = kill_and_repeat(worker, before, data, do, *arguments, operation=operation, states=(old, new))
        if not killed:
            return operation - 1
    raise AssertionError("the work never ended")


def test_the_first_load_of_a_folder_killed_before_each_operation_on_a_file(workers, first_feed, tmp_path):
    count = at_every_operation(workers[0], tmp_path / "nothing", tmp_path / "data", "load", str(first_feed), old=None)
    assert count > 10


@pytest.mark.parametrize(
    ("do", "arguments"), [("load", None), ("undo", [1]), ("undo", [2]), ("withdraw", ["4"]), ("rebuild", [])]
)
def test_work_killed_before_each_operation_on_a_file(workers, busy, second_feed, tmp_path, do, arguments):
    if arguments is None:
        busy, arguments = fresh(busy, tmp_path / "undone"), [str(second_feed)]
        assert "done" in workers[0].run("undo", busy, 2)
    at_every_operation(workers[0], busy, tmp_path / "data", do, *arguments, old=image(busy))
