"""The bench's requests that measure a coil: readings kept, fitted, taken, named."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import soundfile
from fastapi.testclient import TestClient
from rig import RATE_HZ, Rig, coil_ohm
from rig_files import KNOWN_OHM, VALUES, recording, rig_file, wav_of
from server_client import client_of

from dsp.measuring.housing_fit import housing_impedances
from dsp.measuring.tone import make_tone, tone_lines
from dsp.measuring.transfer import measure_transfer
from dsp.parts.coil import Coil, Eddy
from server.database.store import Store
from server.measurements import routes
from server.measurements.recordings import transfer_json
from server.measurements.rig import CAUTIONS
from server.measurements.store import get_measurement, keep_reading, keep_result
from server.wirings.text import WiringText

TYPED = {"known": f"{KNOWN_OHM / 1000} kΩ", "dc": "6.2 kΩ", "celsius": "20 °C"}


class Bench:
    """A commission with one coil, and requests about it."""

    def __init__(self, client: TestClient, starter: str = "blank") -> None:
        self.client = client
        made = client.post("/api/commissions", json={"title": "Measured", "starter": starter}).json()
        row = client.get(f"/api/commissions/{made['id']}").json()["wirings"][0]
        self.wiring, self.version = row["id"], row["versions"][-1]["id"]
        self.where = {"wiring": self.wiring, "part": "coil"}

    def state(self) -> Any:
        return self.client.get("/api/measurements", params=self.where).json()

    def type(self, **fields: Any) -> Any:
        answer = self.client.put("/api/measurements", params=self.where, json=fields)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def bring(self, step: str, content: bytes, name: str = "") -> Any:
        params = {**self.where, "step": step, "name": name or f"{step}.wav"}
        return self.client.post("/api/measurements/recordings", params=params, content=content)

    def fit(self) -> Any:
        return self.client.post("/api/measurements/fit", params=self.where)


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with client_of(tmp_path_factory.mktemp("data")) as found:
        yield found


@pytest.fixture
def bench(client: TestClient) -> Bench:
    return Bench(client)


@pytest.fixture(scope="module")
def measured(client: TestClient) -> Bench:
    """All four recordings brought, the meter read."""
    bench = Bench(client)
    bench.type(**TYPED)
    for step in ("open", "short", "known", "coil"):
        answer = bench.bring(step, rig_file(step))
        assert answer.status_code == 200, answer.text
    return bench


def store_of(client: TestClient) -> Store:
    found: Store = client.app.state.store  # type: ignore[attr-defined]
    return found


def problem(answer: Any) -> str:
    assert answer.status_code == 422, answer.text
    (found,) = answer.json()["problems"]
    return f"{found['where']}: {found['got']}: {found['allowed']} {found['hint']}"


def curve_csv(*, turned: bool = False) -> bytes:
    hz = tone_lines()
    z = coil_ohm(*VALUES)(hz)
    z = z.conj() if turned else z
    return "\n".join(
        ["f,re,im", *(f"{f:g},{a.real:.9g},{a.imag:.9g}" for f, a in zip(hz, z, strict=True))]
    ).encode()


def test_the_rig_is_told_with_the_commands_cautions_and_its_tone(client: TestClient) -> None:
    assert client.get("/api/rig").json()["cautions"] == list(CAUTIONS)
    answer = client.get("/api/rig/tone", params={"rate": 48000, "seconds": 4})
    samples, rate = soundfile.read(io.BytesIO(answer.content))
    assert (len(samples), rate) == (4 * 48_000, 48_000)
    assert np.abs(samples).max() == pytest.approx(10 ** (-12 / 20), rel=1e-3)
    assert client.get("/api/rig/tone", params={"seconds": 3600}).status_code == 422


def test_recordings_are_told_kept_and_fitted(measured: Bench) -> None:
    state = measured.state()
    assert [told["frequencies"] for told in state["rig"].values()] == [119, 119, 119]
    told = state["recording"]
    assert (told["name"], told["signal"]) == ("coil.wav", "lines")
    assert told["level_dbfs"] == pytest.approx(-24, abs=2)
    assert -70 < told["hum_dbfs"] < -40
    state = measured.fit().json()
    found = state["result"]
    assert found["record"]["inductance_h"] == pytest.approx(2.35, rel=0.005)
    assert found["record"]["capacitance_f"] == pytest.approx(118e-12, rel=0.01)
    assert found["record"]["order"] == 1
    low, high = found["record"]["intervals"]["resistance_ohm"]
    assert low < 6200 < high
    assert len(found["curve"]["real"]) == len(found["model"]["real"]) == 119
    assert re.fullmatch(r"read \d{4}-\d\d-\d\d: impedance at the leads, open-short-known", found["comment"])
    assert measured.state()["result"] == found, "it is there after a reload"


def test_values_are_taken_as_one_deed_with_a_comment(measured: Bench) -> None:
    found = measured.state()["result"] or measured.fit().json()["result"]
    draft = {"version": measured.version, "edits": []}
    change = {"do": "take values", "coils": {"coil": found["fields"]}, "comment": found["comment"]}
    answer = measured.client.post("/api/draft/change", json={"draft": draft, "change": change})
    assert answer.status_code == 200, answer.text
    done = answer.json()
    assert done["name"] == "coil as measured"
    names = measured.client.post(
        "/api/draft/names", json={"drafts": [{**draft, "edits": done["edits"]}]}
    ).json()["names"][0]
    assert names[-1] == "", "the comment goes with the values"
    saved = measured.client.post(
        f"/api/wirings/{measured.wiring}/versions", json={"base": measured.version, "edits": done["edits"]}
    )
    assert saved.status_code in (200, 201), saved.text
    text = measured.client.get(f"/api/versions/{saved.json()['id']}").json()["text"]
    assert f"  # {found['comment']}\n  coil:" in text
    coil = WiringText(text, "w").wiring().coils["coil"]
    assert coil.inductance_h == pytest.approx(2.35, rel=0.005)
    assert coil.eddy[0].corner_hz == pytest.approx(9000, rel=0.03)


def test_another_coil_of_the_rig_needs_its_own_recording_alone(measured: Bench, client: TestClient) -> None:
    other = Bench(client)
    state = other.state()
    assert all(state["rig"].values())
    assert state["fields"]["known"] == TYPED["known"]
    assert state["fields"]["dc"] == ""
    assert "none yet of the coil" in problem(other.fit())


def test_two_coils_of_a_housing_are_read_kept_and_taken_together(measured: Bench, client: TestClient) -> None:
    housing = Bench(client, starter="two_humbuckers")
    housing.where["part"] = "neck_a"
    housing.type(known=TYPED["known"], dc="4.1k", second="neck_b", dc_second="4.25k")
    first, second = Coil(4100.0, 2.05, 97e-12, eddy=(Eddy(0.4, 3800.0),)), Coil(4250.0, 2.2, 102e-12)
    assert "none yet of the coil, the other coil, both coils in series" in problem(housing.fit())
    for i, step in enumerate(("coil", "second", "series")):

        def alone(hz: Any, i: int = i) -> Any:
            return housing_impedances(first, second, 0.16, hz)[i]

        samples = Rig().record(alone, make_tone(RATE_HZ, 4), i)
        read = transfer_json(measure_transfer(samples, RATE_HZ, step))
        keep_reading(store_of(client), housing.wiring, "neck_a", step, f"{step}.wav", read)
    found = housing.fit().json()["result"]
    assert found["coefficient"] == pytest.approx(0.16, abs=0.002)
    low, high = found["interval"]
    assert low < found["coefficient"] < high
    assert found["record"]["inductance_h"] == pytest.approx(2.05, rel=0.006)
    assert found["second"]["record"]["inductance_h"] == pytest.approx(2.2, rel=0.006)
    kept = client.post("/api/measurements/keep", params=housing.where, json={"name": "pair"}).json()
    assert [one["name"] for one in kept] == ["pair", "pair_2"]
    coils = {"neck_a": found["fields"], "neck_b": found["second"]["fields"]}
    change = {"do": "take values", "coils": coils, "comment": found["comment"], "coefficient": "0.1600"}
    draft = {"version": housing.version, "edits": []}
    done = client.post("/api/draft/change", json={"draft": draft, "change": change})
    assert done.json()["name"] == "neck_a and neck_b as measured"
    housing.type(known=TYPED["known"], dc="4.1k", second="neck_b")
    assert "one of two coils" in problem(housing.fit())


def test_whatever_changes_takes_the_result_away(bench: Bench) -> None:
    bench.type(source="table", dc="6.2k")
    assert bench.bring("table", curve_csv(), "coil.csv").status_code == 200
    assert bench.fit().json()["result"]["method"] == "impedance at the leads"
    assert bench.type(source="table", dc="6.2k")["result"], "the same again changes nothing"
    assert bench.type(source="table", dc="6.3k")["result"] is None
    gone = bench.client.delete("/api/measurements", params={**bench.where, "step": "all"}).json()
    assert (gone["table"], gone["fields"]["dc"]) == (None, "")


def test_a_table_with_the_other_sign_of_phase_can_be_turned(bench: Bench) -> None:
    bench.type(source="table", dc="6.2k")
    bench.bring("table", curve_csv(turned=True), "coil.csv")
    assert "can be turned" in problem(bench.fit())
    bench.type(source="table", dc="6.2k", turn=True)
    assert bench.fit().json()["result"]["record"]["inductance_h"] == pytest.approx(2.35, rel=0.01)


def test_a_bridge_and_two_peaks_are_typed(bench: Bench) -> None:
    z = coil_ohm(*VALUES)
    rows = []
    for hz in (100.0, 1000.0, 10_000.0):
        one = z(np.array([hz]))[0]
        rows.append(
            {"at": f"{hz:g} Hz", "ls": f"{one.imag / (2 * np.pi * hz):.5g} H", "rs": f"{one.real:.5g} Ω"}
        )
    bench.type(source="bridge", dc="6.2k", bridge=[*rows, {"at": "", "ls": "", "rs": ""}])
    found = bench.fit().json()["result"]
    assert found["record"]["inductance_h"] == pytest.approx(2.35, rel=0.02)
    assert found["curve"] is None
    bench.type(
        source="peaks", dc="6.2k", peaks=[{"across": "470p", "at": "4.4k"}, {"across": "", "at": "2k"}]
    )
    assert problem(bench.fit()).startswith("capacitor across the coil: nothing")
    bench.type(source="peaks", dc="", peaks=[{"across": "470p", "at": "4.4k"}])
    assert problem(bench.fit()).startswith("the meter's reading: nothing")


def test_a_fitted_coil_is_kept_renamed_exported_removed(measured: Bench) -> None:
    client = measured.client
    measured.fit()
    keep = {"params": measured.where, "json": {"name": "our_neck"}}
    assert client.post("/api/measurements/keep", **keep).status_code == 201
    assert client.post("/api/measurements/keep", **keep).status_code == 409
    assert client.put("/api/coils/our_neck", json={"name": "hot"}).json()["name"] == "hot"
    exported = client.get("/api/coils/hot").json()
    assert len(exported["curve"]["frequencies_hz"]) == 119
    (listed,) = [one for one in client.get("/api/coils").json() if one["name"] == "hot"]
    assert listed["has_curve"]
    assert listed["curve"] is None
    gone = client.delete("/api/coils/hot").json()["id"]
    assert "hot" not in [one["name"] for one in client.get("/api/coils").json()]
    assert client.post(f"/api/coils/{gone}/restore").json()["name"] == "hot"
    assert client.delete("/api/coils/nobody").status_code == 404


def bad_recordings() -> dict[str, tuple[bytes, str]]:
    """Return some of each kind; tests/dsp/measuring has all that the measuring refuses."""
    whole = recording("coil")
    return {
        "mono": (wav_of(whole[:1]), "one channel"),
        "swapped": (wav_of(whole[::-1]), "exchanged"),
        "no sound file": (b"RIFF" + bytes(4000), "the recording"),
        "nothing": (b"", "0 bytes"),
    }


@pytest.mark.parametrize("name", bad_recordings())
def test_a_bad_recording_is_named_and_nothing_is_kept(bench: Bench, name: str) -> None:
    content, words = bad_recordings()[name]
    before = bench.state()
    told = problem(bench.bring("coil", content))
    assert words in told
    assert "/" not in told.split(": ")[0], "no storage name is told"
    assert bench.state() == before


def test_hostile_requests_are_refused(bench: Bench) -> None:
    client = bench.client
    unknown = {"wiring": "nothing", "part": "coil"}
    assert client.get("/api/measurements", params=unknown).status_code == 404
    assert client.put("/api/measurements", params=unknown, json={}).status_code == 404
    brought = client.post(
        "/api/measurements/recordings",
        params={**unknown, "step": "coil", "name": "x"},
        content=rig_file("coil"),
    )
    assert brought.status_code == 404
    assert client.post("/api/measurements/keep", params=bench.where, json={"name": "x"}).status_code == 422
    for fields in ({"source": "magic"}, {"dc": "1" * 41}, {"dc": "6\n2"}, {"more": 1}, {"bridge": [{}] * 17}):
        assert client.put("/api/measurements", params=bench.where, json=fields).status_code == 422, fields
    assert problem(bench.bring("table", b"\xff\xfe\x00", "x.csv")).startswith("the table")
    assert "a frequency" in problem(bench.bring("table", b"<html>", "x.csv"))
    assert bench.bring("magic", b"x").status_code == 422
    bench.type(source="table", dc="warm")
    assert problem(bench.fit()).startswith("the meter's reading: 'warm'")
    large = b"f,re,im\n" + b"0,0,0\n" * (800 << 10)
    assert bench.bring("table", large, "x.csv").status_code == 413
    values = {"resistance": "8k", "inductance": "3", "capacitance": "100p", "eddy": []}
    gone = {"do": "take values", "coils": {"output": values}, "comment": "so"}
    answer = client.post(
        "/api/draft/change", json={"draft": {"version": bench.version, "edits": []}, "change": gone}
    )
    assert "coil: 'output'" in problem(answer)


def test_a_fit_of_what_has_changed_meanwhile_is_not_kept(bench: Bench) -> None:
    bench.type(source="table", dc="6.2k")
    store = store_of(bench.client)
    before = get_measurement(store, bench.wiring, "coil")
    bench.type(source="table", dc="6.3k")
    assert keep_result(store, bench.wiring, "coil", {"day": "late"}, before).result is None
    after = get_measurement(store, bench.wiring, "coil")
    assert keep_result(store, bench.wiring, "coil", {"day": "now"}, after).result == {"day": "now"}


def test_first_requests_at_once_share_one_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """The server closes one: another would outlive it."""
    made = []

    def slowly() -> object:
        time.sleep(0.05)
        made.append(object())
        return made[-1]

    monkeypatch.setattr(routes, "Fits", slowly)
    request: Any = SimpleNamespace(app=SimpleNamespace(state=SimpleNamespace()))
    with ThreadPoolExecutor(4) as pool:
        found = set(pool.map(routes._fits, [request] * 4))
    assert found == set(made)
    assert len(made) == 1


def test_no_scratch_file_is_left(measured: Bench) -> None:
    assert not list(store_of(measured.client).folder.glob(".presolder-*"))
