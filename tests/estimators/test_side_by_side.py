"""Pieces worked on side by side: the order is kept, a failure is told, and one piece starts no thread."""

import threading

import pytest

from analytics.estimators import side_by_side as module
from analytics.estimators.side_by_side import side_by_side


@pytest.fixture(autouse=True)
def three_cores(monkeypatch):
    monkeypatch.setattr(module, "threads", lambda: 3)


def test_what_is_found_stands_in_the_order_of_the_pieces_whichever_is_done_first():
    second_done = threading.Event()

    def work(number):
        if number == 0:
            assert second_done.wait(10)
        second_done.set()
        return number, threading.current_thread() is threading.main_thread()

    assert side_by_side(work, range(4)) == [(number, False) for number in range(4)]


def test_a_failure_of_one_is_told_and_stops_those_not_begun():
    begun = []

    def work(number):
        begun.append(number)
        return 1 // (number % 2)

    with pytest.raises(ZeroDivisionError):
        side_by_side(work, range(0, 10_000, 2))
    assert len(begun) < 5000


@pytest.mark.parametrize("pieces", [[], [7]])
def test_one_piece_starts_no_thread(pieces):
    assert side_by_side(lambda one: (one, threading.current_thread()), pieces) == [
        (one, threading.main_thread()) for one in pieces
    ]


def test_one_core_starts_no_thread(monkeypatch):
    monkeypatch.setattr(module, "threads", lambda: 1)
    assert set(side_by_side(lambda _: threading.current_thread(), range(3))) == {threading.main_thread()}


def test_the_cores_of_this_process_are_counted_and_not_those_of_the_machine(monkeypatch):
    monkeypatch.undo()
    monkeypatch.setattr(module.os, "sched_getaffinity", lambda _: {5}, raising=False)
    assert module.threads() == 1
