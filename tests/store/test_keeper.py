"""The keeper writes the newest of each thing in the background, and says once what it cannot."""

from __future__ import annotations

import threading

from companion.store.keeper import Keeper


def test_only_the_newest_of_what_waits_is_written_and_the_order_stays():
    written, begun, go = [], threading.Event(), threading.Event()

    def slow() -> None:
        begun.set()
        go.wait(10)
        written.append("slow")

    keeper = Keeper(written.append)
    keeper.keep("disk", slow)
    assert begun.wait(10)
    for number in range(50):
        keeper.keep("a", lambda number=number: written.append(number))
        keeper.keep("b", lambda number=number: written.append(-number))
    go.set()
    keeper.close()
    assert written == ["slow", 49, -49]


def test_what_fails_is_said_once_until_it_can_be_written_again():
    said, works = [], []

    def write() -> None:
        if not works:
            raise OSError("the disk is full")

    keeper = Keeper(said.append)
    for _ in range(3):
        keeper.keep("a", write)
        keeper.close()
    assert said == ["the disk is full"]
    works.append(True)
    keeper.keep("a", write)
    keeper.close()
    works.clear()
    keeper.keep("a", write)
    keeper.close()
    assert said == ["the disk is full"] * 2
