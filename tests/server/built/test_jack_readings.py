"""The bench's requests about a finished guitar: what to read, readings judged at once, recordings kept."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient
from finished_guitar import KNOWN_OHM, Guitar, measured_here
from server_client import client_of

from dsp.checking.points import setting_text
from dsp.checking.readings_text import read_readings
from dsp.measuring.tone import tone_lines
from dsp.measuring.transfer import Transfer
from dsp.units import parse
from server.built import routes
from server.built import store as kept
from server.commissions import store as commissions
from server.commissions.starters import STARTERS
from server.database import store as database
from server.database.store import Store, migrations
from server.measurements.finished import meaning_text, plan_bands, verdict_text
from server.measurements.rig import CAUTIONS
from server.wirings.text import WiringText


def wiring_text(guitar: Guitar) -> WiringText:
    version = guitar.client.get(f"/api/versions/{guitar.version}").json()
    return WiringText(version["text"], "one coil")


def test_the_plan_is_that_of_the_command(guitar: Guitar) -> None:
    wiring = wiring_text(guitar).wiring()
    bands = plan_bands(wiring)
    assert guitar.plan["cautions"] == list(CAUTIONS)
    places = [(one["setting"], point["title"]) for one in guitar.plan["settings"] for point in one["points"]]
    assert places == [(setting_text(wiring, band.point.setting), band.point.what()) for band in bands]
    turned = ["1 volume=0", "1 volume=5", "1 tone=0", "1 tone=5"]
    assert [one["setting"] for one in guitar.plan["settings"]] == ["1", *turned]
    assert "makers' sheets" in " ".join(guitar.plan["spreads"])


def test_a_reading_is_judged_as_it_is_typed(guitar: Guitar) -> None:
    expected = guitar.plan["settings"][0]["points"][0]["expected"]
    cases = {expected: "within", expected.replace(".", ","): "within", "9": "too low", "90k": "too high"}
    for typed, side in cases.items():
        (one,) = guitar.type(_1=typed)["judged"]["readings"]
        assert (one["value"], one["side"]) == (typed, side)
    assert one["read"] == "90 kΩ"
    assert one["band"] == guitar.plan["settings"][0]["points"][0]["band"]


def test_what_cannot_be_understood_is_a_problem_of_its_field_alone(guitar: Guitar) -> None:
    judged = guitar.type(_1="8.1 kV", **{"1 volume=0": "0"})["judged"]
    said, shorted = judged["readings"]
    assert said["side"] == "problem"
    assert "allowed" in said["words"]
    assert shorted["side"] == "within"
    assert judged["verdict"]["read"] == 1
    assert "kV" not in judged["text"]


def test_open_and_zero_say_what_they_mean(guitar: Guitar) -> None:
    judged = guitar.type(_1="OL", **{"1 volume=0": "0", "1 tone=0": "0"})["judged"]
    words = {one["setting"]: (one["side"], one["words"]) for one in judged["readings"]}
    assert words["1"][0] == "too high"
    assert "Nothing conducts" in words["1"][1]
    assert words["1 volume=0"][0] == "within"
    assert "As it should be here" in words["1 volume=0"][1]
    assert words["1 tone=0"][0] == "too low"
    assert "Tip and sleeve are joined" in words["1 tone=0"][1]
    assert judged["verdict"]["text"] == "two readings outside, 3 of 5 read, by the meter alone"


@pytest.mark.parametrize(
    ("outside", "read", "text"),
    [
        (0, 0, "nothing read yet"),
        (0, 4, "within what the parts allow, 4 of 10 read"),
        (0, 10, "within what the parts allow"),
        (1, 10, "one reading outside"),
        (12, 10, "12 readings outside"),
    ],
)
def test_the_verdict_in_words(outside: int, read: int, text: str) -> None:
    assert verdict_text(outside, read, 10) == text


def test_impedance_says_nothing_of_a_meter_that_is_shorted(guitar: Guitar) -> None:
    band = plan_bands(wiring_text(guitar).wiring())[1]
    assert meaning_text(band, 0.0) == ""
    assert "open joint" in meaning_text(band, float("inf"))


def test_what_was_typed_stays_and_travels_as_a_table(guitar: Guitar) -> None:
    guitar.type(known="99,87k", _1="8,1k", **{"1 tone=5": "8.2 kΩ"})
    state = guitar.state()
    assert state["fields"]["meter"] == {"1": "8,1k", "1 tone=5": "8.2 kΩ"}
    found = read_readings(wiring_text(guitar).wiring(), state["judged"]["text"], "readings")
    assert [one.ohm for one in found] == [8100.0, 8200.0]


def test_recordings_are_read_once_the_rig_is_calibrated_at_the_plug(client: TestClient) -> None:
    guitar = Guitar(client)
    guitar.type()
    assert guitar.bring("guitar", b"guitar", setting="1").status_code == 200
    state = guitar.state()
    assert "none yet of the open plug, the shorted plug, the known resistor" in state["waiting"]
    assert state["judged"]["readings"] == []
    for step in ("open", "short", "known"):
        assert guitar.bring(step, step.encode()).status_code == 200
    assert "its resistance as read" in guitar.state()["waiting"]
    state = guitar.type(known=f"{KNOWN_OHM / 1000} kΩ")
    assert state["waiting"] == ""
    read = {one["what"]: one for one in state["judged"]["readings"]}
    assert list(read) == ["120 Hz", "900 Hz", "4 kHz", "8.8 kHz"]
    assert read["120 Hz"]["source"] == "guitar.wav"
    assert parse(read["900 Hz"]["value"], "resistance", "") == pytest.approx(
        abs(6200 + 2j * np.pi * 900 * 2.35), rel=1e-3
    )
    assert state["recordings"]["1"]["frequencies"] == 119
    assert guitar.drop("guitar", "1")["judged"]["readings"] == []
    assert guitar.drop("short")["rig"]["short"] is None


def test_a_table_of_impedance_is_a_recording(client: TestClient) -> None:
    guitar = Guitar(client)
    hz = tone_lines()
    table = "\n".join(["freq,|z|,phase", *(f"{one:g},{2500},45" for one in hz)])
    guitar.type()
    state = guitar.bring("guitar", table.encode(), name="jack.csv", setting="1 tone=5").json()
    read = {one["what"]: one["value"] for one in state["judged"]["readings"]}
    assert read == dict.fromkeys(("120 Hz", "900 Hz", "4 kHz", "8.8 kHz"), "2.5 kΩ")


@pytest.mark.parametrize(
    ("setting", "name", "content", "words"),
    [
        ("9", "a.wav", b"x", "position"),
        ("1", "a.wav", b"", "0 bytes"),
        ("1", "a.csv", b"\xff\xfe", "UTF-8"),
        ("1", "a.csv", b"freq,|z|,phase\n9,1,2", "rows"),
        ("1 loudness=3", "a.wav", b"x", "loudness"),
    ],
)
def test_hostile_files_are_refused_in_words(
    guitar: Guitar, setting: str, name: str, content: bytes, words: str
) -> None:
    answer = guitar.bring("guitar", content, name=name, setting=setting)
    assert answer.status_code == 422
    assert words in str(answer.json()["problems"])


def test_the_next_guitar_starts_with_the_rigs_resistor_alone(guitar: Guitar) -> None:
    guitar.type(known="99.87k", _1="8.1k")
    state = guitar.drop("all")
    assert (state["fields"]["known"], state["fields"]["meter"]) == ("99.87k", {})
    assert Guitar(guitar.client).state()["fields"]["known"] == "99.87k"


def test_what_was_thrown_away_comes_back_until_the_next_guitar_is_kept(client: TestClient) -> None:
    guitar = Guitar(client)
    back = {"url": "/api/built/readings/back", "params": {"wiring": guitar.wiring}}
    assert client.post(**back).status_code == 404
    assert not guitar.state()["thrown"]
    guitar.put({"version": guitar.version, "serial": "26-014", "meter": {"1": "8.1k"}})
    assert guitar.bring("guitar", b"guitar", setting="1").status_code == 200
    before = guitar.state()
    assert guitar.drop("all")["thrown"]
    guitar.put({"known": "100k"})
    assert guitar.state()["thrown"], "the known resistor is the rig's"
    again = client.post(**back).json()
    assert again["fields"] == {**before["fields"], "known": "100k"}
    assert again["recordings"] == before["recordings"], "with the time at which each came"
    assert not again["thrown"]
    assert client.post(**back).status_code == 404, "it stands: nothing is thrown away"
    guitar.drop("all")
    assert guitar.drop("all")["thrown"], "pressed twice: the second finds nothing to throw away"
    assert client.post(**back).json()["recordings"] == before["recordings"]
    guitar.drop("all")
    with client.app.state.store.write() as db:  # type: ignore[attr-defined]
        kept.clear_readings(db, guitar.wiring)  # as when the guitar after it is kept
    assert not guitar.state()["thrown"]
    assert client.post(**back).status_code == 404


def test_what_came_since_is_exchanged_with_what_comes_back(client: TestClient) -> None:
    guitar = Guitar(client)

    def read(serial: str) -> None:
        guitar.put({"version": guitar.version, "serial": serial})

    def bring_back() -> str:
        answer = client.post("/api/built/readings/back", params={"wiring": guitar.wiring})
        assert answer.status_code == 200, answer.text
        assert guitar.state()["thrown"], "what stood can come back too"
        return str(answer.json()["fields"]["serial"])

    read("one")
    guitar.bring("guitar", b"guitar", setting="1")
    guitar.drop("all")
    read("two")
    assert [bring_back() for _ in range(4)] == ["one", "two", "one", "two"]
    assert guitar.state()["recordings"] == {}, "of the other guitar"
    guitar.drop("all")
    read("three")
    assert [bring_back() for _ in range(6)] == ["two", "one", "three"] * 2, "each in its turn"
    assert [bring_back() for _ in range(2)] == ["two", "one"]
    assert list(guitar.state()["recordings"]) == ["1"], "with its recordings"
    for k in range(kept.MOST_THROWN + 2):
        read(str(k))
        guitar.drop("all")
    store = client.app.state.store  # type: ignore[attr-defined]
    with store.read() as db:
        query = "SELECT count(*) FROM jack_thrown WHERE wiring_id = ?"
        assert db.execute(query, (guitar.wiring,)).fetchone()[0] == kept.MOST_THROWN
    client.post("/api/built/readings/back", params={"wiring": guitar.wiring})
    assert guitar.state()["fields"]["serial"] == str(kept.MOST_THROWN + 1), "the last one first"


def test_two_windows_do_not_wipe_each_others_readings(guitar: Guitar) -> None:
    guitar.drop("all")
    guitar.put({"version": guitar.version, "serial": "26-014", "meter": {"1": "8.1k", "1 tone=0": "8.3k"}})
    state = guitar.put({"meter": {"1 tone=5": "8.2k", "1 tone=0": ""}}).json()
    assert state["fields"]["meter"] == {"1": "8.1k", "1 tone=5": "8.2k"}
    assert (state["fields"]["serial"], state["fields"]["version"]) == ("26-014", guitar.version)
    assert len(state["judged"]["readings"]) == 2
    guitar.put({"meter": {str(k): "1" for k in range(500)}})
    assert guitar.put({"meter": {f"more {k}": "1" for k in range(500)}}).status_code == 413
    guitar.drop("all")


def test_the_known_resistor_is_the_rigs(client: TestClient) -> None:
    first, second = Guitar(client), Guitar(client)
    first.type(known="99.87k", _1="8.1k")
    second.put({"known": "47.1k"})
    assert first.state()["fields"]["known"] == "47.1k"
    assert first.put({"meter": {"1": "8.2k"}}).json()["fields"]["known"] == "47.1k"


def test_the_known_resistor_of_an_older_database_is_that_typed_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(database, "migrations", lambda: migrations()[:19])
        old = Store(tmp_path)
        texts = {name: STARTERS["blank"].text() for name in ("first", "second", "third")}
        made = commissions.create(old, "Old", "", texts)
        wirings = [row["id"] for row in commissions.get_commission(old, made)["wirings"]]
        with old.write() as db:
            for moment, (wiring, known) in enumerate(zip(wirings, ("99.87k", "47.1k", ""), strict=True)):
                typed = json.dumps({"known": known, "meter": {"1": "8.1k"}})
                db.execute("INSERT INTO jack_readings VALUES (?, ?, ?)", (wiring, typed, str(moment)))
        old.close()
    found = [kept.get_readings(Store(tmp_path), wiring) for wiring in wirings]
    assert [one.fields["known"] for one in found] == ["47.1k"] * 3
    assert [one.fields["meter"] for one in found] == [{"1": "8.1k"}] * 3


def test_a_recording_of_the_guitar_before_is_refused(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    guitar = Guitar(client)

    def emptied_meanwhile(content: bytes, folder: Path, *, shorted: bool) -> Transfer:
        guitar.drop("all")
        return measured_here(content, folder, shorted=shorted)

    monkeypatch.setattr(routes, "measure_recording", emptied_meanwhile)
    answer = guitar.bring("guitar", b"guitar", setting="1")
    assert answer.status_code == 409
    assert "of the guitar before" in str(answer.json()["problems"])
    assert guitar.state()["recordings"] == {}
    assert guitar.bring("open", b"open").status_code == 200


def test_readings_survive_a_restart(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("again")
    with client_of(folder) as client:
        guitar = Guitar(client)
        guitar.type(_1="8.1k")
    with client_of(folder) as client:
        guitar.client = client
        assert guitar.state()["fields"]["meter"] == {"1": "8.1k"}
        guitar.drop("all")
    with client_of(folder) as client:
        guitar.client = client
        back = client.post("/api/built/readings/back", params={"wiring": guitar.wiring})
        assert back.json()["fields"]["meter"] == {"1": "8.1k"}, "and so does what was thrown away"


def test_a_strangers_requests_are_refused(client: TestClient, guitar: Guitar) -> None:
    assert client.get("/api/built/readings", params={"wiring": "none"}).status_code == 404
    assert client.get("/api/built/plan", params={"version": "none"}).status_code == 404
    assert guitar.put({"meter": {"1": "x" * 41}}).status_code == 422
    assert guitar.put({"meter": {str(k): "1" for k in range(600)}}).status_code == 422
