"""Drafts over HTTP: check, facts, curves, stems and filters against the engine, and refusals."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient
from places import DEMO
from server_client import client_of
from tolerances import DRAWN_DB, MATCH_LU, SEEN_HZ

from dsp.circuit.meter import jack_reading_ohm
from dsp.circuit.response import respond
from dsp.filters.design import TAPS, design_bank
from dsp.parts.kinds import KINDS
from dsp.parts.library.index import LIBRARY
from dsp.sound.hum import hum_record, pick_up_m2
from dsp.sound.live_level import MOST_MONITOR_DB, TARGET_LUFS, monitor_gain_db, take_spectra
from dsp.sound.loudness import integrated_lufs
from dsp.sound.movement import Step
from dsp.sound.render import Renderer
from dsp.wiring.editing.document import Edit
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.bench.curves import response_json
from server.bench.hearing import RATE_HZ, Bench, Draft
from server.cli import main
from server.files.yaml_text import parse_tree
from server.takes.load import load_take
from server.wirings.text import load_wiring

TAKE = "demo:low_riff"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with client_of(tmp_path_factory.mktemp("sounding"), demo=True) as one:
        yield one


@pytest.fixture(scope="module")
def versions(client: TestClient) -> dict[str, str]:
    """Return the latest version of each demo wiring, by its number of coils."""
    rows = client.get("/api/commissions").json()
    found = {row["wirings"][0]["name"].split(",")[0]: row["wirings"][0]["version"] for row in rows}
    return {"baritone": found["Baritone"], "twelve": found["Twelve-string"]}


@pytest.fixture(scope="module")
def baritone() -> Wiring:
    return load_wiring(DEMO / "baritone.yaml")


def draft_json(version: str, *edits: tuple[str, str]) -> dict[str, Any]:
    return {"version": version, "edits": [{"path": path.split("."), "value": value} for path, value in edits]}


CAP = "parts.tone_cap.capacitance"


# --- check


def test_check_lists_every_field_of_every_part_as_written(client: TestClient, versions: Any) -> None:
    found = client.post("/api/draft/check", json={"draft": draft_json(versions["baritone"])}).json()
    assert found["ok"]
    assert found["problems"] == []
    parts = {part["name"]: part for part in found["parts"]}
    wiring = load_wiring(DEMO / "baritone.yaml")
    assert list(parts) == [*wiring.parts, "cable", "amplifier"]
    for part in found["parts"]:
        if part["kind"] in KINDS:
            own = [field.name for field in KINDS[part["kind"]].fields]
            assert [field["name"] for field in part["fields"]][: len(own)] == own
            assert {field["name"] for field in part["fields"][len(own) :]} <= {"ganged", "turns", "tolerance"}
    fields = {field["name"]: field for field in parts["neck_a"]["fields"]}
    assert fields["resistance"]["value"] == "4.1 kΩ"
    assert fields["eddy"]["value"] == "[{share: 18 %, corner: 3.2 kHz}]"
    assert fields["winding"]["choices"] == ["forward", "reverse"]
    assert fields["aperture"]["value"] == ""
    assert fields["aperture"]["default"] == "10 mm"
    cap = parts["tone_cap"]["fields"][0]
    assert cap["path"] == CAP.split(".")
    assert cap["steps"] == {"down": "18 nF", "up": "27 nF"}
    assert [one["position"] for one in found["positions"]] == ["1", "2", "3", "4", "5", "6"]
    assert found["knobs"][0] == {
        "name": "volume", "about": "500 kΩ, measured audio", "detent": False,
    }  # fmt: skip
    assert found["coils"][0] == {"name": "neck_a", "at_mm": 176.0, "winding": "forward", "magnet": "north"}
    assert found["selector"] == "selector"
    assert found["strings"] == ["B1", "E2", "A2", "D3", "F#3", "B3"]
    assert any(one["severity"] == "reminder" for one in found["findings"])


def test_values_of_the_library_are_named_as_such(client: TestClient) -> None:
    made = client.post("/api/commissions", json={"title": "Like", "starter": "two_singles"}).json()["id"]
    version = client.get(f"/api/commissions/{made}").json()["wirings"][0]["versions"][-1]["id"]
    draft = draft_json(version, ("parts.neck.resistance", "6 kΩ"))
    found = client.post("/api/draft/check", json={"draft": draft}).json()
    parts = {part["name"]: part for part in found["parts"]}
    assert parts["neck"]["like"] == "plated_single_medium"
    fields = {field["name"]: field for field in parts["neck"]["fields"]}
    entry = LIBRARY["plated_single_medium"].fields
    assert fields["inductance"]["value"] == ""
    assert fields["inductance"]["inherited"] == entry["inductance"]
    assert fields["inductance"]["steps"]["up"]
    assert (fields["resistance"]["value"], fields["resistance"]["inherited"]) == ("6 kΩ", entry["resistance"])
    assert fields["at"]["inherited"] == ""
    assert {field["inherited"] for field in parts["volume"]["fields"]} == {""}
    lugs = next(field for field in parts["selector"]["fields"] if field["name"] == "lugs")
    assert not lugs["inherited"].startswith("[")


def test_edits_of_several_drafts_are_named(client: TestClient, versions: Any) -> None:
    """Also an edit that is refused: it has a place and a value all the same."""
    first = draft_json(versions["baritone"], ("parts.tone_cap.capacitance", "1 nF"), ("name", "Mine"))
    second = draft_json(versions["baritone"], ("parts.volume.resistance", "much"))
    none = draft_json(versions["baritone"])
    found = client.post("/api/draft/names", json={"drafts": [first, second, none]})
    assert found.json() == {"names": [["tone capacitor 1 nF", "name Mine"], ["volume much"], []]}
    unknown = client.post("/api/draft/names", json={"drafts": [draft_json("nothing", ("name", "x"))]})
    assert unknown.status_code == 404


def every_field(found: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the fields of every part and section of a check, and of the items of their lists."""
    places = [*found["parts"], *found["around"]]
    items = [item for place in places for one in place["lists"] for item in one["items"]]
    return [field for place in [*places, *items] for field in place["fields"]]


@pytest.mark.long
def test_every_step_offered_is_accepted(client: TestClient, versions: Any) -> None:
    """For every field, the file accepts what a step writes."""
    for name in versions:
        found = client.post("/api/draft/check", json={"draft": draft_json(versions[name])}).json()
        steps = [
            (field["path"], text)
            for field in every_field(found)
            if field["value"] and field["steps"]
            for text in field["steps"].values()
            if text
        ]
        assert len(steps) > 20
        texts = {name: (DEMO / f"{name}.yaml").read_text("utf-8")}
        bench = Bench(texts.__getitem__, lambda take: pytest.fail("no take is needed"), lambda *_: None)
        for path, text in steps:
            bench.wiring(Draft(name, (Edit(tuple(path), text),)))


def test_sketches_have_a_field_per_position(client: TestClient) -> None:
    text = (DEMO / "baritone_sketch.yaml").read_text("utf-8")
    made = client.post("/api/commissions", json={"title": "Sketch", "wiring_text": text}).json()["id"]
    version = client.get(f"/api/commissions/{made}").json()["wirings"][0]["versions"][-1]["id"]
    found = client.post("/api/draft/check", json={"draft": draft_json(version)}).json()
    sketch = next(part for part in found["parts"] if part["kind"] == "sketch")
    fields = [item["fields"][0] for item in sketch["lists"][0]["items"]]
    assert [field["form"] for field in fields] == ["expression"] * len(found["positions"])
    first = fields[0]
    assert first["path"] == ["parts", sketch["name"], "positions", found["positions"][0]["position"]]
    edited = draft_json(version, (".".join(first["path"]), "neck_a | nobody"))
    again = client.post("/api/draft/check", json={"draft": edited}).json()
    assert not again["ok"]
    assert "nobody" in again["problems"][0]["got"]


def test_a_senseless_value_is_reported_with_its_place(client: TestClient, versions: Any) -> None:
    bad = draft_json(versions["baritone"], (CAP, "33 nX"), ("parts.volume.resistance", "-3 k"))
    answer = client.post("/api/draft/check", json={"draft": bad})
    assert answer.status_code == 200
    found = answer.json()
    assert not found["ok"]
    assert found["parts"] == []
    assert [problem["got"] for problem in found["problems"]] == ["'-3 k'", "'33 nX'"]
    assert all(problem["allowed"] for problem in found["problems"])
    for path in ("facts", "response", "filters", "fan"):
        body = {"draft": bad, "setting": {"position": "1"}, "settings": [{"position": "1"}], "knob": "tone"}
        keys = {"facts": ("draft",), "response": ("draft", "settings"), "filters": ("draft", "setting"),
                "fan": ("draft", "setting", "knob")}[path]  # fmt: skip
        answer = client.post(f"/api/draft/{path}", json={key: body[key] for key in keys})
        assert answer.status_code == 422
        assert len(answer.json()["problems"]) == 2


@pytest.mark.parametrize(
    ("path", "body", "status"),
    [
        ("check", {"draft": {"version": "nobody"}}, 404),
        ("check", {"draft": {"version": "nobody", "extra": 1}}, 422),
        ("facts", {"draft": {"version": "V"}, "knobs": {"volume": 11}}, 422),
        ("facts", {"draft": {"version": "V"}, "knobs": {"bass": 1}}, 422),
        ("response", {"draft": {"version": "V"}, "settings": []}, 422),
        ("response", {"draft": {"version": "V"}, "settings": [{"position": "9"}]}, 422),
        ("response", {"draft": {"version": "V"}, "settings": [{"position": "1"}], "string": 7}, 422),
        ("response", {"draft": {"version": "V"}, "settings": [{"position": "1"}], "points": 10**9}, 422),
        ("fan", {"draft": {"version": "V"}, "setting": {"position": "1"}, "knob": "bass"}, 422),
        ("pair", {"draft": {"version": "V"}, "setting": {"position": "1"}, "first": "bass"}, 422),
        ("pair", {"draft": {"version": "V"}, "setting": {"position": "1"}, "first": "tone", "second": "tone"},
         422),
        ("filters", {"draft": {"version": "V"}, "setting": {"position": "1"}, "take": "demo:none"}, 404),
        ("filters", {"draft": {"version": "V", "edits": [{"path": ["no", "such"], "value": "1"}]},
                     "setting": {"position": "1"}}, 422),
    ],
)  # fmt: skip
def test_what_is_refused(client: TestClient, versions: Any, path: str, body: Any, status: int) -> None:
    text = json.dumps(body).replace('"V"', json.dumps(versions["baritone"]))
    answer = client.post(f"/api/draft/{path}", content=text, headers={"Content-Type": "application/json"})
    assert answer.status_code == status
    assert answer.json()["problems"]


@pytest.mark.parametrize("edits", ["", "{", "{}", "[[]]", '[{"path": [], "value": "1"}]', "[" * 5000])
def test_edits_that_an_address_does_not_hold(client: TestClient, versions: Any, edits: str) -> None:
    asked = {"version": versions["baritone"], "take": TAKE, "edits": edits}
    assert client.get("/api/stems", params=asked).status_code == 422


# --- facts and curves


def test_facts_are_those_of_the_engine(client: TestClient, versions: Any, baritone: Wiring) -> None:
    asked = {"draft": draft_json(versions["baritone"]), "knobs": {"tone": 4.0}, "switches": {}}
    rows = client.post("/api/draft/facts", json=asked).json()["positions"]
    assert [row["position"] for row in rows] == list(baritone.positions)
    assert rows[0]["connection_text"] == "neck_a + neck_b"
    assert rows[0]["connection"][0]["kind"] == "series"
    assert rows[0]["hum"] == "none"
    assert rows[5]["hum"] == "hums"
    assert rows[0]["words"]
    for row in rows:
        setting = baritone.setting(row["position"], {"tone": 4.0})
        assert row["meter_ohm"] == pytest.approx(jack_reading_ohm(baritone, setting))
        assert all(row["position"] in one["positions"] for one in row["findings"])
    assert any(one["finding"] == "not hum-cancelling" for one in rows[5]["findings"])


def test_an_edit_changes_the_facts(client: TestClient, versions: Any) -> None:
    version = versions["baritone"]

    def brightness(*edits: tuple[str, str]) -> float:
        body = {"draft": draft_json(version, *edits), "knobs": {"tone": 2.0}}
        found = client.post("/api/draft/facts", json=body).json()
        return float(found["positions"][0]["brightness_hz"])

    assert brightness() < brightness((CAP, "2.2 nF")) < brightness((CAP, "470 pF"))


def test_silence_and_open_are_null(client: TestClient, versions: Any) -> None:
    """JSON has no infinity."""
    asked = {"draft": draft_json(versions["twelve"]), "knobs": {"volume": 0.0}}
    row = client.post("/api/draft/facts", json=asked).json()["positions"][0]
    assert row["level_db"] is None or row["level_db"] < -100.0
    assert row["coils"] == []
    assert row["brightness_hz"] is None
    assert row["resonances"] == []


def test_response_curves_are_the_circuits(client: TestClient, versions: Any, baritone: Wiring) -> None:
    settings = [{"position": "2", "knobs": {"tone": 3.0}, "switches": {}}, {"position": "6"}]
    asked = {"draft": draft_json(versions["baritone"]), "settings": settings, "points": 60}
    found = client.post("/api/draft/response", json=asked).json()
    hz = np.array(found["frequencies_hz"])
    truth = respond(baritone, [baritone.setting("2", {"tone": 3.0}), baritone.setting("6")], hz).coil
    for i, one in enumerate(found["settings"]):
        for k, name in enumerate(baritone.coils):
            level = np.maximum(20.0 * np.log10(np.maximum(np.abs(truth[i, k]), 1e-12)), -160.0)
            assert np.max(np.abs(level - one["coils"][name])) <= DRAWN_DB
    plain = np.sum(truth[1], axis=0)
    assert np.max(np.abs(20.0 * np.log10(np.abs(plain)) - found["settings"][1]["together_db"])) <= DRAWN_DB


def test_a_chosen_string_gives_no_signal_at_a_node_of_its_partial() -> None:
    """A partial has a node over the coil where n x / l is whole: sin(n pi x / l), the string's motion."""
    wiring = load_wiring(DEMO / "twelve.yaml")
    sent = response_json(wiring, [wiring.setting("3")], points=1000, string=1)["settings"][0]
    hz = np.geomspace(20.0, 20_000.0, 1000)
    x_m, length_m, pitch_hz = 0.046, 0.648, 440.0 * 2.0 ** (-29.0 / 12.0)
    null_hz = pitch_hz * length_m / x_m
    near = (hz > 0.8 * null_hz) & (hz < 1.2 * null_hz)
    level = np.array(sent["together_db"])[near] - np.array(sent["coils"]["bridge"])[near]
    seen_hz = hz[near][np.argmin(level)]
    assert abs(seen_hz - null_hz) <= SEEN_HZ
    assert abs(seen_hz - 1.01 * null_hz) > SEEN_HZ


def test_the_fan_runs_from_0_to_10_and_states_its_steps(client: TestClient, versions: Any) -> None:
    asked = {
        "draft": draft_json(versions["baritone"]),
        "setting": {"position": "1"},
        "knob": "tone",
        "steps": 5,
    }
    found = client.post("/api/draft/fan", json=asked).json()
    assert [curve["value"] for curve in found["curves"]] == [0.0, 2.5, 5.0, 7.5, 10.0]
    assert len(found["evenness"]) == 4
    assert all(step > 0.0 for step in found["evenness"])
    levels = np.array([curve["together_db"] for curve in found["curves"]])
    high = np.array(found["frequencies_hz"]) > 4000.0
    assert np.all(np.diff(levels[:, high].mean(axis=1)) > 0.0)


def test_a_pair_of_knobs_equals_the_commands(client: TestClient, versions: Any) -> None:
    asked = {"draft": draft_json(versions["twelve"]), "setting": {"position": "3", "knobs": {"volume": 2}}}
    found = client.post("/api/draft/pair", json=asked).json()
    words = ["pair", str(DEMO / "twelve.yaml"), "-p", "3", "--json"]
    (command,) = json.loads(CliRunner().invoke(main, words, catch_exceptions=False).stdout)["pairs"]
    points = np.array(found.pop("timbre")) / 100.0
    assert {"position": "3", **found} == command
    apart = np.sqrt(np.mean((points - points[-1, -1]) ** 2, axis=2))
    for value in (1, 11, 20):
        assert apart[value] == pytest.approx(np.array(found["distance_db"][value], float), abs=0.02)
    other = client.post("/api/draft/pair", json={**asked, "first": "tone"}).json()
    assert other["knobs"] == ["tone", "volume"]


# --- stems


def test_stems_are_the_takes_volts(client: TestClient, versions: Any, baritone: Wiring) -> None:
    asked = {"version": versions["baritone"], "take": TAKE}
    answer = client.get("/api/stems", params=asked)
    assert answer.headers["content-type"] == "application/octet-stream"
    samples = int(answer.headers["x-samples"])
    assert answer.headers["x-coils"].split(",") == list(baritone.coils)
    found = np.frombuffer(answer.content, "<f4").reshape(-1, samples)
    truth = np.concatenate(list(load_take(DEMO / "low_riff.yaml").stems(baritone, 48_000)), axis=1)
    assert found.shape == truth.shape
    assert np.array_equal(found, truth.astype(np.float32))
    again = client.get(
        "/api/stems",
        params={**asked, "edits": json.dumps([{"path": CAP.split("."), "value": "33 nF"}])},
        headers={"If-None-Match": answer.headers["etag"]},
    )
    assert again.status_code == 304  # a capacitor changes no stem
    moved = [{"path": ["parts", "neck_a", "at"], "value": "170 mm"}]
    other = client.get(
        "/api/stems",
        params={**asked, "edits": json.dumps(moved)},
        headers={"If-None-Match": answer.headers["etag"]},
    )
    assert other.status_code == 200
    assert other.headers["etag"] != answer.headers["etag"]


def test_the_hum_of_a_room_and_what_each_coil_picks_up(
    client: TestClient, versions: Any, baritone: Wiring
) -> None:
    assert client.get("/api/hum").json() == hum_record(RATE_HZ)
    unchanged = draft_json(versions["baritone"])
    asked = {"draft": unchanged}
    areas = client.post("/api/draft/hum", json=asked).json()["areas_m2"]
    assert areas == pytest.approx(pick_up_m2(baritone).tolist())
    first = next(iter(baritone.coils))
    turned = draft_json(
        versions["baritone"], (f"parts.{first}.winding", "reverse"), (f"parts.{first}.turns_area", "0.5")
    )
    changed = client.post("/api/draft/hum", json={"draft": turned}).json()["areas_m2"]
    assert changed[0] < 0.0 < areas[0]
    assert changed[0] == pytest.approx(-0.5 * areas[0] / baritone.coils[first].hum_pick_up, rel=0.04)
    assert changed[1:] == areas[1:]
    assert client.post("/api/draft/hum", json={"draft": {"version": "nothing"}}).status_code == 404


def test_stems_from_a_time_on(client: TestClient, versions: Any) -> None:
    asked = {"version": versions["baritone"], "take": TAKE}
    whole = client.get("/api/stems", params=asked)
    later = client.get("/api/stems", params={**asked, "from_s": 2.0})
    n, m = int(whole.headers["x-samples"]), int(later.headers["x-samples"])
    assert m == n - 96_000
    rows = np.frombuffer(whole.content, "<f4").reshape(-1, n)[:, 96_000:]
    assert np.array_equal(np.frombuffer(later.content, "<f4").reshape(-1, m), rows)
    assert client.get("/api/stems", params={**asked, "from_s": 2000.0}).status_code == 422
    assert client.get("/api/stems", params={**asked, "from_s": "nan"}).status_code == 422


def test_an_overview_has_400_peaks(client: TestClient, versions: Any) -> None:
    found = client.get("/api/overview", params={"version": versions["baritone"], "take": TAKE}).json()
    assert len(found["peaks"]) == 400
    assert max(found["peaks"]) == 1.0
    assert min(found["peaks"]) >= 0.0
    assert found["seconds"] == pytest.approx(12.38, abs=0.01)


# --- filters and levels


def test_a_frame_holds_the_design(client: TestClient, versions: Any, baritone: Wiring) -> None:
    asked = {
        "id": 41,
        "draft": draft_json(versions["baritone"]),
        "setting": {"position": "3", "knobs": {"tone": 6.5}},
    }
    frame = np.frombuffer(client.post("/api/draft/filters", json=asked).content, "<f8")
    bank = design_bank(baritone, baritone.setting("3", {"tone": 6.5}))
    n_coils, n_taps = bank.taps.shape
    assert all(taps % 4 == 0 for taps in TAPS), "the page's player runs four taps at a time"
    head = [
        41,
        n_coils,
        len(bank.poles),
        n_taps,
        bank.delay,
        bank.error.level_db,
        float(bank.error.meets_contract),
    ]
    assert list(frame[:7]) == head
    assert np.isnan(frame[7])
    rest = np.concatenate([bank.poles.ravel(), bank.numerators.ravel(), bank.taps.ravel()])
    assert np.array_equal(frame[8:], rest)


SETTINGS = [("1", {}), ("2", {"tone": 0.0}), ("3", {"volume": 3.0}), ("6", {"tone": 5.0, "volume": 8.0})]


@pytest.mark.parametrize("take", ["low_riff", "staccato", "e_slide"])
def test_matched_settings_have_the_same_loudness(
    client: TestClient, versions: Any, baritone: Wiring, take: str
) -> None:
    """Compare the gain sent with the loudness of the rendered clip, as the meter reads it."""
    stems = np.concatenate(list(load_take(DEMO / f"{take}.yaml").stems(baritone, 48_000)), axis=1)
    for position, knobs in SETTINGS:
        setting = baritone.setting(position, knobs)
        asked = {
            "draft": draft_json(versions["baritone"]),
            "setting": {"position": position, "knobs": knobs},
            "take": f"demo:{take}",
        }
        gain_db = np.frombuffer(client.post("/api/draft/filters", json=asked).content, "<f8")[7]
        renderer = Renderer([Step(0, 0, setting)], lambda one: design_bank(baritone, one), 48_000.0)
        clip = np.concatenate(list(renderer.render([stems])))
        measured = integrated_lufs(clip * 10.0 ** (gain_db / 20.0), 48_000.0)
        assert measured == pytest.approx(TARGET_LUFS, abs=MATCH_LU)
        assert abs(measured - 1.1 * MATCH_LU - 0.3 - TARGET_LUFS) > MATCH_LU


def test_both_gates_are_applied_as_the_meter_applies_them() -> None:
    """Noise, a part 30 dB softer, then silence: the mean of it all would read 4.8 LU low."""
    rng = np.random.default_rng(4)
    noise = 0.1 * rng.standard_normal((2, 48_000 * 6))
    soft = 10.0 ** (-30.0 / 20.0) * noise[:, ::-1]
    stems = np.concatenate([noise, soft, 0.0 * soft], axis=1)
    wiring = load_wiring(DEMO / "twelve.yaml")
    bank, stage = design_bank(wiring, wiring.setting("2")), Step(0, 0, wiring.setting("2"))
    clip = np.concatenate(list(Renderer([stage], lambda _: bank, 48_000.0).render([stems])))
    spectra = take_spectra(stems, 48_000.0)
    found = spectra.loudness_lufs(bank)
    assert found == pytest.approx(integrated_lufs(clip, 48_000.0), abs=MATCH_LU)
    assert spectra.loudness_lufs(bank, gain_db=3.0) == pytest.approx(found + 3.0, abs=1e-6)
    assert take_spectra(0.0 * noise, 48_000.0).loudness_lufs(bank) == -np.inf
    assert take_spectra(0.0 * noise, 48_000.0).match_gain_db(bank) == np.inf


def test_a_very_quiet_take_is_matched_too() -> None:
    """All of it lies below the absolute gate at first: the gate applies after the gain."""
    stems = 1e-6 * np.random.default_rng(4).standard_normal((2, 48_000 * 4))
    wiring = load_wiring(DEMO / "twelve.yaml")
    bank, stage = design_bank(wiring, wiring.setting("1")), Step(0, 0, wiring.setting("1"))
    clip = np.concatenate(list(Renderer([stage], lambda _: bank, 48_000.0).render([stems])))
    gain_db = take_spectra(stems, 48_000.0).match_gain_db(bank)
    assert integrated_lufs(clip * 10.0 ** (gain_db / 20.0), 48_000.0) == pytest.approx(
        TARGET_LUFS, abs=MATCH_LU
    )


def test_a_silent_setting_has_no_gain(client: TestClient, versions: Any) -> None:
    asked = {
        "draft": draft_json(versions["twelve"]),
        "setting": {"position": "1", "knobs": {"volume": 0.0}},
        "take": TAKE,
    }
    assert np.frombuffer(client.post("/api/draft/filters", json=asked).content, "<f8")[7] == np.inf


# --- the monitor gain


def monitor(client: TestClient, draft: Any, take: str = TAKE) -> Any:
    answer = client.post("/api/draft/monitor", json={"draft": draft, "take": take})
    assert answer.status_code == 200, answer.text
    return answer.json()


@pytest.mark.parametrize("name", ["baritone", "twelve"])
def test_the_monitor_gain_brings_the_loudest_position_to_the_common_loudness(
    client: TestClient, versions: Any, name: str
) -> None:
    """Compare with the meter on the rendered clips: the others keep their distance."""
    found = monitor(client, draft_json(versions[name]))
    wiring = load_wiring(DEMO / f"{name}.yaml")
    stems = np.concatenate(list(load_take(DEMO / "low_riff.yaml").stems(wiring, 48_000)), axis=1)
    loud = []
    for position in wiring.positions:
        step = Step(0, 0, wiring.setting(position))
        renderer = Renderer([step], lambda one: design_bank(wiring, one), 48_000.0)
        clip = np.concatenate(list(renderer.render([stems])))
        loud.append(integrated_lufs(clip * 10.0 ** (found["gain_db"] / 20.0), 48_000.0))
    assert not found["silent"]
    assert max(loud) == pytest.approx(TARGET_LUFS, abs=MATCH_LU)
    assert np.ptp(loud) > 2.0


def test_the_monitor_gain_is_of_the_draft_and_not_of_its_knobs(client: TestClient, versions: Any) -> None:
    plain = monitor(client, draft_json(versions["baritone"]))["gain_db"]
    path = "parts.volume.resistance"
    assert monitor(client, draft_json(versions["baritone"], (path, "20 kΩ")))["gain_db"] > plain + 1.0
    bad = {"draft": draft_json(versions["baritone"], (path, "none")), "take": TAKE}
    assert client.post("/api/draft/monitor", json=bad).status_code == 422
    unknown = {"draft": draft_json(versions["baritone"]), "take": "demo:nothing"}
    assert client.post("/api/draft/monitor", json=unknown).status_code == 404


KILL = """
format: 1
name: Kill switch
parts:
  one: {kind: coil, resistance: 8 kΩ, inductance: 4 H, capacitance: 100 pF, at: 60 mm}
  selector: {kind: switch, lugs: [A0, A1], contacts: {1: [[A0, A1]]}}
  kill: {kind: switch, lugs: [K0, K1], contacts: {1: [[K0, K1]], 2: []}}
  output: {kind: jack}
joints:
  - [one.start, selector.A1]
  - [selector.A0, kill.K0, output.tip]
  - [one.finish, kill.K1, output.sleeve]
"""


def test_a_kill_switch_at_rest_does_not_hide_the_loudness() -> None:
    wiring = read_wiring(parse_tree(KILL, "kill"), "kill")
    live = wiring.setting("1", switches={"kill": "2"})
    stems = np.concatenate(list(load_take(DEMO / "low_riff.yaml").stems(wiring, 48_000)), axis=1)
    expected = take_spectra(stems, 48_000.0).match_gain_db(design_bank(wiring, live))
    bench = Bench(lambda _: KILL, lambda _: load_take(DEMO / "low_riff.yaml"), lambda *_: None)
    assert bench.monitor(Draft("one"), "any").gain_db == pytest.approx(expected, abs=1e-6)
    dead = (Edit(("joints", "1"), None),)
    assert bench.monitor(Draft("one", dead), "any").gain_db == np.inf


def test_the_monitor_gain_of_a_faint_take_is_bounded() -> None:
    assert monitor_gain_db([np.inf, 55.0, 70.0]) == MOST_MONITOR_DB
    assert monitor_gain_db([np.inf, -12.0, 3.0]) == -12.0
    assert monitor_gain_db([np.inf]) == np.inf


def test_a_draft_is_drawn_as_its_edits_say(client: TestClient, versions: dict[str, str]) -> None:
    draft = draft_json(versions["baritone"], ("parts.tone_cap.capacitance", "47 nF"))
    body = {"draft": draft, "knobs": {"volume": 0.0}, "switches": {}}
    found = client.post("/api/draft/drawing", json=body).json()
    assert next(one for one in found["facts"]["parts"] if one["name"] == "tone_cap")["value"] == "47 nF"
    assert [state["position"] for state in found["states"]] == list("123456")
    assert {level for state in found["states"] for level in state["parts"].values()} == {0}
    loud = client.post("/api/draft/drawing", json={"draft": draft}).json()["states"]
    assert loud[2]["coils"] == {
        "neck_a": "heard",
        "neck_b": "shorted",
        "bridge_a": "shorted",
        "bridge_b": "heard",
    }
