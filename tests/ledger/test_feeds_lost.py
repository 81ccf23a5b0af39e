"""Kept feeds and journal lost beside a sound ledger: the doctor says what to load again, and that is a way out."""

import re
import shutil

import pytest

from analytics.cli import main
from analytics.ledger import apart, doctor, ledger_hash, loads, rebuild, same, undo, withdraw
from analytics.ledger.feeds import feeds_dir
from analytics.ledger.journal import journal_path, read_journal
from tests.ledger.feeds import CAR, ask, files_of, job, tell


@pytest.fixture(scope="module")
def feeds(tmp_path_factory):
    """Files as their owner still has them."""
    place = tmp_path_factory.mktemp("feeds")
    orders = [job(str(number)) for number in range(1, 8)]
    return [
        files_of(
            place / "first",
            vehicles=[CAR, {"vehicle_id": "B", "series": "first"}],
            repairs=[*orders, job("q", action="polish"), job("q", "2")],
        ),
        files_of(place / "second", repairs=[job("1", cost="5"), job("8", component="Hose front")]),
        files_of(place / "third", repairs=[job("1", cost="6"), job("9"), job("z", action="polish")]),
    ]


@pytest.fixture(scope="module")
def lived(feeds, tmp_path_factory):
    """A ledger to which everything was done that can be done."""
    data = tmp_path_factory.mktemp("lived") / "data"
    for feed in feeds:
        assert main(["load", str(feed), "--data", str(data)]) == 0
    withdraw(data, "2", reason="typed twice")
    withdraw(data, "q", reason="not ours")
    withdraw(data, "3/1", reason="not ours")
    same(data, "component", "Hose front", "hose")
    same(data, "vehicle", "B", "A")
    apart(data, "vehicle", "B")
    assert undo(data, 2) == {3: 4}
    withdraw(data, "z", reason="late")
    return data


@pytest.fixture
def data(lived, tmp_path):
    return shutil.copytree(lived, tmp_path / "data")


def wrong(data):
    return [(finding.kind, finding.says) for finding in doctor(data) if not finding.ok]


def test_the_ledger_tells_the_steps_that_the_journal_noted(data):
    noted = read_journal(data)
    journal_path(data).unlink()
    ((kind, says),) = wrong(data)
    assert kind == "journal"
    assert says.startswith("it is gone; the ledger tells 11 steps of it, and the next `wearledger load`")
    before = tell(data, ledger_hash)
    assert rebuild(data) == before
    told = read_journal(data)
    assert len(noted) == 11
    # of an order with no line but those in quarantine, these are told
    assert told == [{**step, "name": "z/1"} if step.get("name") == "z" else step for step in noted]
    assert wrong(data) == []


def test_everything_beside_the_ledger_lost_comes_back_by_loading_the_same_files_again(data, feeds, capsys):
    before = tell(data, ledger_hash)
    shutil.rmtree(feeds_dir(data))
    told = wrong(data)
    assert {kind for kind, _ in told} == {"journal", "feeds"}
    says = [says for kind, says in told if kind == "feeds"]
    assert len(says) == 3
    assert all(re.match(r"the kept feed [0-9a-f]{8} is gone; load \w+\.csv", each) for each in says)
    assert any("is whole: nothing that was loaded is missing" in finding.says for finding in doctor(data))
    capsys.readouterr()
    for feed in feeds:
        assert main(["load", str(feed), "--data", str(data)]) == 0
        written = capsys.readouterr()
        back = "the kept copy of this feed was missing or damaged and has been put back"
        undone = f"{back}; its load was undone, so nothing of it counts: load it once more to take it"
        known = f"already known, nothing changed in the ledger; {back}"
        assert written.out.startswith(undone if feed == feeds[1] else known)
        assert written.err == ""
    assert wrong(data) == []
    assert tell(data, ledger_hash) == before
    assert rebuild(data) == before
    assert wrong(data) == []


def test_a_known_feed_whose_copy_is_whole_counts_anew(data, feeds, capsys):
    assert main(["load", str(feeds[0]), "--data", str(data)]) == 0
    assert capsys.readouterr().out.startswith("load 5; 11 rows read: 0 new, 9 unchanged, 1 revised, 1 quarantined")


def test_a_damaged_copy_is_put_back_as_well(data, feeds, capsys):
    before = tell(data, ledger_hash)
    damaged = min(feeds_dir(data).glob("*/vehicles.parquet"))
    damaged.write_bytes(damaged.read_bytes()[:-1])
    assert {kind for kind, _ in wrong(data)} == {"feeds"}
    assert main(["load", str(feeds[0]), "--data", str(data)]) == 0
    assert "has been put back" in capsys.readouterr().out
    assert wrong(data) == []
    assert tell(data, ledger_hash) == before


def test_a_new_load_after_the_loss_goes_on_counting(data, tmp_path):
    shutil.rmtree(feeds_dir(data))
    more = files_of(tmp_path / "more", repairs=[job("77")])
    assert main(["load", str(more), "--data", str(data)]) == 0
    assert tell(data, loads)["load_id"].to_list() == [1, 4, 5]
    assert {kind for kind, _ in wrong(data)} == {"feeds"}
    assert [step["load_id"] for step in read_journal(data) if step["did"] == "load"] == [1, 2, 3, 5]
    assert ask(data, "select count(*) from repairs where record_id = '77'") == [(1,)]


def test_a_feed_whose_load_was_undone_is_told_to_be_loaded_once_more(feeds, tmp_path, capsys):
    data = tmp_path / "anew"
    for words in (["load", str(feeds[0])], ["undo", "1"]):
        assert main([*words, "--data", str(data)]) == 0
    shutil.rmtree(feeds_dir(data))
    capsys.readouterr()
    assert main(["load", str(feeds[0]), "--data", str(data)]) == 0
    assert "nothing of it counts: load it once more to take it" in capsys.readouterr().out
    assert main(["load", str(feeds[0]), "--data", str(data)]) == 0
    assert "11 rows read: 10 new" in capsys.readouterr().out
