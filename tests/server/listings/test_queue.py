"""The listing queue alone, without a worker: whose turn it is, and when a listing is given up."""

from __future__ import annotations

from pathlib import Path

import pytest

from server.database.store import Store
from server.listings import queue
from server.listings import store as orders
from server.listings.queue import MOST_TRIES
from server.listings.store import CANCELLED, FAILED, INTERRUPTED, RUNNING, Order

OPTIONS = {"settings": [], "formats": [], "loudness_lufs": None, "rate_hz": 48_000, "names": "{wiring}"}


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path)


def order(store: Store, title: str = "Spring") -> str:
    """Put a listing without wirings into the queue; return its id."""
    return orders.create(store, Order(title, (), (), OPTIONS), clips=0, files=(), seconds=0.0)


def crash(store: Store, job: str) -> str:
    """Let a worker take a listing and die; return the listing's state."""
    assert queue.take_next(store) == job
    assert orders.state_of(store, job) == RUNNING
    queue.mark_interrupted(store, died=True)
    return orders.state_of(store, job)


def test_a_listing_that_crashes_its_worker_each_time_is_given_up(store: Store) -> None:
    job, following = order(store), order(store, "Next")
    assert [crash(store, job) for _ in range(MOST_TRIES)] == [INTERRUPTED] * (MOST_TRIES - 1) + [FAILED]
    with store.read() as db:
        report = orders.row_of(db, job)["report"]
    assert f"its process ended {MOST_TRIES} times" in report
    assert queue.take_next(store) == following


def test_progress_between_crashes_gives_a_listing_all_its_tries_again(store: Store) -> None:
    job = order(store)
    for _ in range(2 * MOST_TRIES):
        assert queue.take_next(store) == job
        queue.save_progress(store, job, {"share": 0.5}, {})
        queue.mark_interrupted(store, died=True)
        assert orders.state_of(store, job) == INTERRUPTED


def test_a_server_that_stops_in_good_order_costs_no_try(store: Store) -> None:
    job = order(store)
    for _ in range(2 * MOST_TRIES):
        assert queue.take_next(store) == job
        queue.mark_interrupted(store, died=False)
        assert orders.state_of(store, job) == INTERRUPTED


def test_a_listing_resumed_by_hand_has_all_its_tries_again(store: Store) -> None:
    job = order(store)
    while crash(store, job) != FAILED:
        pass
    orders.resume(store, job)
    assert [crash(store, job) for _ in range(MOST_TRIES)] == [INTERRUPTED] * (MOST_TRIES - 1) + [FAILED]


def test_an_interrupted_listing_goes_before_those_that_wait(store: Store) -> None:
    first = order(store)
    assert queue.take_next(store) == first
    order(store, "Next")
    queue.mark_interrupted(store, died=True)
    assert queue.take_next(store) == first


def test_a_listing_cancelled_as_its_worker_dies_ends_as_cancelled(store: Store) -> None:
    job = order(store)
    assert queue.take_next(store) == job
    orders.cancel(store, job)
    assert queue.cancel_requested(store, job)
    queue.mark_interrupted(store, died=True)
    assert orders.state_of(store, job) == CANCELLED
    assert not queue.waiting(store)
