"""A proposal of the same sounds is found again while its link is open."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from places import DEMO
from proposal_case import TAKE, made

from server.bench.hearing import Draft, Hearing
from server.clips.keys import take_key
from server.proposals import store as proposals
from server.proposals.describe import SoundRequest, WiringRequest, describe_sounds, describe_wirings
from server.proposals.earlier import find_earlier
from server.takes.load import load_take


def test_the_same_sounds_find_their_proposal_until_the_take_changes(tmp_path: Path) -> None:
    one = made(tmp_path)
    hearings = [Hearing(Draft(one.version), position) for position in ("1", "2", "3")]
    items = describe_sounds(one.store, [SoundRequest(hearing) for hearing in hearings])
    wirings = describe_wirings(one.store, "Your baritone", items, [])
    with one.store.read() as db:
        (row,) = proposals.takes_of(db, one.id)
    take = proposals.OfferedTake(row["take_id"], row["name"], row["seconds"], row["places_said"])
    key = take_key(load_take(DEMO / "e_slide.yaml"))

    def find(
        title: str = "Your baritone", offered: proposals.OfferedTake = take, by: str = key
    ) -> str | None:
        return find_earlier(one.store, one.commission, title, items, wirings, [offered], {TAKE: by})

    assert find() == one.id, "before its clips are made too"
    one.render()
    assert find() == one.id
    assert find(by="another sound of the same name") is None
    assert find(title="Another") is None
    assert find(offered=dataclasses.replace(take, name="Another")) is None
    offer = (one.store, one.commission, "Your baritone")
    assert find_earlier(*offer, items[:2], wirings, [take], {TAKE: key}) is None
    dearer = describe_wirings(
        one.store, "Your baritone", items, [WiringRequest(one.version, price="a little more")]
    )
    assert find_earlier(*offer, items, dearer, [take], {TAKE: key}) is None
    newer = one.another()
    assert find() == newer.id
    proposals.revoke(one.store, newer.id)
    assert find() == one.id
    proposals.revoke(one.store, one.id)
    assert find() is None
