"""Starters fitted to an instrument: scale, strings and coils inserted, comments kept, faults named."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from server_client import client_of

from dsp.parts.library.index import LIBRARY
from dsp.parts.library.string_sets import STRING_SETS
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.commissions.starters import STARTERS
from server.files.yaml_text import parse_tree
from server.wirings.fitting import StarterFit, coil_names, fit_starter

INCH_M = 0.0254


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return client_of(tmp_path / "data")


def wiring_of(text: str) -> Wiring:
    return read_wiring(parse_tree(text, "text"), "text")


def start(client: TestClient, **said: Any) -> Any:
    return client.post("/api/commissions", json={"title": "Job", "starter": "two_singles", **said})


def text_of(client: TestClient, commission: str) -> str:
    wiring = client.get(f"/api/commissions/{commission}").json()["wirings"][0]
    return str(client.get(f"/api/versions/{wiring['versions'][0]['id']}").json()["text"])


def comments(text: str) -> list[str]:
    return [line.partition("#")[2].strip() for line in text.splitlines() if " #" in line or line[:1] == "#"]


def test_instrument_and_coils_are_put_into_the_starter(client: TestClient) -> None:
    instrument = {"scale": "686 mm", "set": "baritone"}
    answer = start(client, instrument=instrument, coils={"neck": "narrow_single_hot"})
    assert answer.status_code == 201, answer.text
    wiring = wiring_of(text_of(client, answer.json()["id"]))
    before = wiring_of(STARTERS["two_singles"].text())
    assert wiring.instrument is not None
    assert wiring.instrument.scale_m == pytest.approx(0.686)
    assert [one.note for one in wiring.instrument.strings] == ["B1", "E2", "A2", "D3", "F#3", "B3"]
    assert wiring.instrument.strings[0].gauge_m == pytest.approx(0.062 * INCH_M)
    neck, was = wiring.coils["neck"], before.coils["neck"]
    assert neck.inductance_h == 3.0  # narrow_single_hot
    assert (neck.at_m, neck.winding, neck.magnet) == (was.at_m, was.winding, was.magnet)
    assert wiring.coils["bridge"] == before.coils["bridge"]


def test_an_empty_form_leaves_the_starter_unchanged(client: TestClient) -> None:
    made = start(client, instrument={}, coils={}).json()["id"]
    assert text_of(client, made) == STARTERS["two_singles"].text()


@pytest.mark.parametrize("name", STARTERS)
def test_every_starter_takes_every_set_and_keeps_its_comments(name: str) -> None:
    text = STARTERS[name].text()
    coils = dict.fromkeys(coil_names(text, name), "double_hot_coil")
    assert coils
    for strings in STRING_SETS.values():
        made = fit_starter(text, StarterFit("650 mm", strings.name, coils), name)
        wiring = wiring_of(made)
        assert wiring.instrument is not None
        assert len(wiring.instrument.strings) == len(strings.strings)
        pitches = [one.pitch_hz for one in wiring.instrument.strings[:: 1 + (strings.name == "twelve")]]
        assert pitches == sorted(pitches)
        assert {one.inductance_h for one in wiring.coils.values()} == {3.8}
        assert comments(made) == comments(text)


@pytest.mark.parametrize(
    ("coils", "want"),
    [
        ({"neck_a": "double_hot_coil", "neck_b": "double_hot_coil"}, (0.15, 0.18)),
        ({"bridge_a": "stacked_upper_coil", "bridge_b": "stacked_lower_coil"}, (0.18, -0.3)),
        ({"neck_a": "double_hot_coil"}, (0.18, 0.18)),  # one coil of a unit tells nothing of the pair
        ({"neck_a": "double_hot_coil", "neck_b": "double_weak_coil"}, (0.18, 0.18)),
        ({"neck_a": "narrow_single_hot", "neck_b": "narrow_single_hot"}, (0.18, 0.18)),
    ],
)
def test_both_coils_of_a_unit_bring_their_coupling(coils: dict[str, str], want: tuple[float, float]) -> None:
    made = fit_starter(STARTERS["two_humbuckers"].text(), StarterFit(coils=coils), "two_humbuckers")
    assert tuple(pair.coefficient for pair in wiring_of(made).couplings) == want


def test_the_starters_own_coils_have_the_coupling_offered_with_them() -> None:
    text = STARTERS["two_humbuckers"].text()
    offered = {LIBRARY[like].coupling for like in coil_names(text, "two_humbuckers").values()}
    assert {pair.coefficient for pair in wiring_of(text).couplings} == offered


def test_every_library_coil_fits_every_kind_of_coil() -> None:
    for starter, coil in (("two_singles", "neck"), ("baritone", "neck_a")):
        for entry in (one for one in LIBRARY.values() if one.kind == "coil"):
            made = fit_starter(STARTERS[starter].text(), StarterFit(coils={coil: entry.name}), starter)
            assert wiring_of(made).coils[coil].sensitivity == entry.fields["sensitivity"]


SCREENED, OPEN = "steel_single_medium", "narrow_single_medium"


@pytest.mark.parametrize(
    "own", ["", "resistance: 7 kΩ, screening: {share: 30 %, corner: 1 kHz}, cover: metal"]
)
def test_a_coil_loses_what_the_library_coil_before_it_had(own: str) -> None:
    """Screening and cover are no values of a coil on rod magnets; neither may stay from the one before."""
    text = STARTERS["two_singles"].text()
    fitted = fit_starter(text, StarterFit(coils={"neck": SCREENED}), "two_singles")
    assert wiring_of(fitted).coils["neck"].screening is not None
    if own:
        fitted = re.sub(rf"like: {SCREENED}", f"like: {SCREENED}, {own}", fitted)
        assert wiring_of(fitted).coils["neck"].covered
    plain = wiring_of(fit_starter(fitted, StarterFit(coils={"neck": OPEN}), "two_singles")).coils["neck"]
    assert (plain.screening, plain.covered, plain.resistance_ohm) == (None, False, 6100.0)


@pytest.mark.parametrize(
    ("said", "where", "hint"),
    [
        ({"instrument": {"scale": "686"}}, "instrument.scale", ""),
        ({"instrument": {"scale": "3 km"}}, "instrument.scale", ""),
        ({"instrument": {"scale": "}\nx: 1"}}, "instrument.scale", ""),
        ({"instrument": {"set": "baryton"}}, "instrument.set", "baritone"),
        ({"coils": {"neck": "narrow_single_hat"}}, "coils.neck", "narrow_single_hot"),
        ({"coils": {"neck": "push_pull"}}, "coils.neck", ""),
        ({"coils": {"nick": "narrow_single_hot"}}, "coils", "neck"),
        ({"starter": None, "instrument": {"set": "baritone"}}, "instrument", ""),
    ],
)
def test_senseless_values_are_refused_at_their_place(
    client: TestClient, said: dict[str, Any], where: str, hint: str
) -> None:
    answer = start(client, **said)
    assert answer.status_code == 422, answer.text
    problem = answer.json()["problems"][0]
    assert where in problem["where"]
    assert hint in problem["hint"]
    assert client.get("/api/commissions").json() == []


def test_starters_state_their_scale_and_coils(client: TestClient) -> None:
    listed = {one["name"]: one for one in client.get("/api/starters").json()}
    assert listed["baritone"]["scale"] == "686 mm"
    assert listed["two_singles"]["coils"][0] == {"name": "neck", "like": "plated_single_medium"}
    sets = client.get("/api/starters/strings").json()
    assert [one["name"] for one in sets] == list(STRING_SETS)
    assert sets[0]["strings"][0] == "{note: E2, gauge: 0.046 in, wound: true}"
