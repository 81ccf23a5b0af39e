"""Work killed with ``kill -9`` at any instant: nothing half, nothing acknowledged lost, the same work again completes.

Instants are drawn uniformly over the time the whole work takes (seed 20261125), or, where the interesting windows are
narrow, taken one by one: before the first operation on a file of the data folder, before the second, and so on.
"""

import os
import random
import shutil
from concurrent.futures import ThreadPoolExecutor
from statistics import median

import pytest

from tests.ledger.feeds import CAR, files_of, job
from tests.ledger.killing import Workers, assert_good, fresh, image
from tests.thoroughness import tried

pytestmark = pytest.mark.skipif(os.name == "nt", reason="a process cannot be forked and killed at once there")

SEED = 20261125
LOADS_KILLED = tried(100, 24)
OTHERS_KILLED = tried(5, 2)
MOST_OPERATIONS = 300
STEPS = {"rebuild": tried(3, 15), "undo": tried(2, 8), "forget": tried(6, 24)}
"""Of work with many operations on files, one in so many is tried; `test_forget_stopped` tries a forget's last ones."""

STEP = tried(1, 6)
"""The same of all other work."""
AT_ONCE = 2


@pytest.fixture(scope="module")
def workers():
    started = [Workers() for _ in range(AT_ONCE)]
    yield started
    for each in started:
        each.close()


@pytest.fixture(scope="module")
def first_feed(tmp_path_factory):
    orders = [job(str(number)) for number in range(60)]
    return files_of(
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
    return files_of(tmp_path_factory.mktemp("second") / "feed", vehicles=cars, repairs=orders)


@pytest.fixture(scope="module")
def held(workers, first_feed, tmp_path_factory):
    data = tmp_path_factory.mktemp("held") / "data"
    assert workers[0].run("load", data, str(first_feed))["done"] == 1
    return data


@pytest.fixture(scope="module")
def busy(workers, held, second_feed, tmp_path_factory):
    """Two loads, one withdrawn order, a name said to be another, one snapshot."""
    data = fresh(held, tmp_path_factory.mktemp("busy") / "data")
    for order in (("load", str(second_feed)), ("withdraw", "3"), ("same", "component", "house", "hose"), ("analyse",)):
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
    if left != old and do in {"undo", "withdraw", "same", "apart"}:
        copy = fresh(data, data.with_name("built again"))
        assert "done" in worker.run("rebuild", copy)
        assert image(copy) == new, "the journal does not tell of it"
    again = worker.run(do, data, *arguments)
    assert "done" in again or (left == new and old != new), again
    assert image(data) == new
    assert_good(data)
    return told["killed"], left == new


def test_loads_killed_at_random_instants(workers, held, second_feed, tmp_path):
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
    # beside other work a load may end before an instant drawn over the time it took alone
    assert sum(killed for killed, _ in outcomes) > LOADS_KILLED / 2


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


def at_every_operation(workers, before, data, do, *arguments, old, step=STEP):
    """Kill the work before its first operation on a file, its next ones by `step`, until it ends by itself."""
    new = whole(workers[0], before, data, do, *arguments)[1]

    def kill(each):
        # the workers take every other operation
        for operation in range(1 + each * step, MOST_OPERATIONS, AT_ONCE * step):
            place = data.parent / str(each) / "data"
            place.parent.mkdir(exist_ok=True)
            killed, _ = kill_and_repeat(
                workers[each], before, place, do, *arguments, operation=operation, states=(old, new)
            )
            if not killed:
                return operation - 1
        raise AssertionError("the work never ended")

    with ThreadPoolExecutor(AT_ONCE) as threads:
        return max(threads.map(kill, range(AT_ONCE)))


def test_the_first_load_of_a_folder_killed_before_each_operation_on_a_file(workers, first_feed, tmp_path):
    count = at_every_operation(workers, tmp_path / "nothing", tmp_path / "data", "load", str(first_feed), old=None)
    assert count > 10


@pytest.mark.parametrize(
    ("do", "arguments"),
    [
        ("load", None),
        ("undo", [1]),
        ("undo", [2]),
        ("withdraw", ["4"]),
        ("same", ["part", "12-3", "12-4"]),
        ("apart", ["component", "house"]),
        ("rebuild", []),
    ],
)
def test_work_killed_before_each_operation_on_a_file(workers, busy, second_feed, tmp_path, do, arguments):
    if arguments is None:
        busy, arguments = fresh(busy, tmp_path / "undone"), [str(second_feed)]
        assert "done" in workers[0].run("undo", busy, 2)
    step = STEPS.get(do, STEP)
    at_every_operation(workers, busy, tmp_path / "data", do, *arguments, old=image(busy), step=step)


def killed_at_each(worker, do, data, *arguments):
    """Do the work again and again, killed before its first operation on a file, its next by `STEP`, until it ends."""
    for operation in range(1, MOST_OPERATIONS, STEP):
        told = worker.run(do, data, *arguments, operation=operation)
        assert "failed" not in told, told
        yield told["killed"]
        if not told["killed"]:
            return
    raise AssertionError("the work never ended")


def test_a_killed_backup_is_not_there_or_whole(workers, busy, tmp_path):
    target, data, there = tmp_path / "copy.zip", fresh(busy, tmp_path / "data"), tmp_path / "there"
    as_it_was, refused = image(busy), 0
    for _ in killed_at_each(workers[0], "backup", data, str(target)):
        # what is left under another name is no backup before its last byte, even to who takes it for one
        for archive in [*tmp_path.glob(".copy.zip.*.part"), *tmp_path.glob("copy.zip")]:
            told = workers[0].run("restore", there, str(archive))
            if "failed" in told:
                assert archive != target
                assert "the backup is not used" in told["failed"]
                assert not there.exists()
                refused += 1
            else:
                assert image(there) == as_it_was
                assert_good(there)
                shutil.rmtree(there)
        target.unlink(missing_ok=True)
        assert image(data) == as_it_was
    assert refused > 5 / STEP
    assert "done" in workers[0].run("backup", data, str(target))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["copy.zip", "data"]


def test_a_killed_restore_leaves_nothing_or_all(workers, busy, tmp_path):
    source = tmp_path / "copy.zip"
    assert "done" in workers[0].run("backup", busy, str(source))
    as_it_was = image(busy)
    there = tmp_path / "place" / "data"
    there.parent.mkdir()
    count = 0
    for killed in killed_at_each(workers[0], "restore", there, str(source)):
        count += killed
        if there.exists() and any(there.iterdir()):
            assert image(there) == as_it_was
            assert_good(there)
            shutil.rmtree(there)
    assert count > 10 / STEP
    assert "done" in workers[0].run("restore", there, str(source))
    assert image(there) == as_it_was
    assert [path.name for path in there.parent.iterdir()] == ["data"]


def test_a_killed_export_leaves_whole_files_and_describes_them_only_together(workers, busy, tmp_path):
    whole, folder = tmp_path / "whole", tmp_path / "to"
    data = fresh(busy, tmp_path / "data")
    assert "done" in workers[0].run("export", data, str(whole))
    written = {path.name: path.read_bytes() for path in whole.iterdir()}
    old = dict.fromkeys(written, b"an earlier export")
    for _ in killed_at_each(workers[0], "export", data, str(folder)):
        left = {path.name: path.read_bytes() for path in folder.glob("*") if path.is_file()}
        assert all(content in (written[name], old[name]) for name, content in left.items())
        if "datapackage.json" in left:
            assert left in (written, old)
        folder.mkdir(exist_ok=True)
        for name, content in old.items():
            (folder / name).write_bytes(content)
    assert "done" in workers[0].run("export", data, str(folder))
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == written


def test_a_killed_forget_is_as_before_or_finished_by_the_same_command(workers, busy, tmp_path):
    before = fresh(busy, tmp_path / "before")
    data = tmp_path / "place" / "data"
    data.parent.mkdir()
    assert "done" in workers[0].run("forget", fresh(before, data), "B")
    old, new = image(before), image(data)
    for operation in range(1, MOST_OPERATIONS, STEPS["forget"]):
        killed = workers[0].run("forget", fresh(before, data), "B", operation=operation)["killed"]
        if not (data / "forgetting" / "ready.json").exists():
            assert image(data) in (old, new)
            assert_good(data)
        again = workers[0].run("forget", data, "B")
        assert "done" in again or "no car 'B'" in again["failed"]
        assert image(data) == new
        assert_good(data)
        if not killed:
            return
    raise AssertionError("the work never ended")
