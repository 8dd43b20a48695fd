"""The workshop's own coils: kept by name, used in wirings, written out wherever one is saved."""

from __future__ import annotations

import json
from contextlib import AbstractContextManager
from pathlib import Path
from sqlite3 import Connection

import pytest
from click.testing import CliRunner, Result

from dsp.errors import InputError
from dsp.parts.coil import Coil
from dsp.wiring.reading.own_parts import own_likes, write_out
from dsp.wiring.reading.wiring import read_wiring
from server.cli import main
from server.commissions.versions import create_wiring, get_version, import_file_change, save
from server.commissions.wiring_files import import_wiring_files, latest_of_file
from server.database.store import FILE, Store
from server.files.yaml_text import parse_tree
from server.refusals import Conflict, Unknown
from server.settings import DATA
from server.wirings import own_coils
from server.wirings.own_coils import OwnCoil
from server.wirings.text import load_wiring

FIELDS: dict[str, object] = {
    "resistance": "8.12 kΩ",
    "inductance": "3.21 H",
    "capacitance": "118 pF",
    "eddy": [{"share": "45 %", "corner": "9 kHz"}],
}
OURS = OwnCoil("our_bridge", "2026-11-03", "loaded peaks", FIELDS, {"order": 1, "notes": ["so"]})
WIRING = """format: 1
parts:
  # the hot one
  bridge: {kind: coil, like: our_bridge, capacitance: 150 pF}
  neck:
    like: our_bridge # as the bridge
  output: {kind: jack}
joints:
  - [bridge.start, output.tip]
  - [bridge.finish, neck.start]
  - [neck.finish, output.sleeve]
"""


@pytest.fixture
def store(tmp_path: Path) -> Store:
    found = Store(tmp_path / "data")
    own_coils.keep_coils(found, [OURS])
    return found


def call(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def coils_of(text: str) -> dict[str, Coil]:
    """Read a text as a computer does that has no coils of its own."""
    return dict(read_wiring(parse_tree(text, "elsewhere"), "elsewhere").coils)


def test_values_stand_in_place_of_the_name_and_what_the_file_states_stays() -> None:
    tree = parse_tree(WIRING, "w")
    assert own_likes(tree) == {"bridge": "our_bridge", "neck": "our_bridge"}
    coils = read_wiring(write_out(tree, {"our_bridge": OURS.entry()}), "w").coils
    assert coils["bridge"].capacitance_f == pytest.approx(150e-12)
    assert coils["neck"].capacitance_f == pytest.approx(118e-12)
    assert {coil.inductance_h for coil in coils.values()} == {3.21}
    assert [(one.share, one.corner_hz) for one in coils["neck"].eddy] == [(0.45, 9000.0)]


def test_a_coil_that_is_missing_is_named_with_what_to_do() -> None:
    with pytest.raises(InputError) as caught:
        read_wiring(parse_tree(WIRING, "w"), "w")
    (first, second) = caught.value.problems
    assert (first.where, second.where) == ("w:4: bridge.like", "w:6: neck.like")
    assert "`presolder coils`" in first.allowed
    assert "another computer" in first.hint


def test_parts_of_the_library_are_left_alone() -> None:
    tree = parse_tree(WIRING.replace("our_bridge", "narrow_single_medium"), "w")
    assert own_likes(tree) == {}
    assert write_out(tree, {}) is tree


def test_a_wiring_kept_in_the_data_folder_holds_the_values(store: Store) -> None:
    with store.write() as db:
        db.execute(
            "INSERT INTO commissions (id, title, client, created, changed) VALUES ('c', 't', '', '1', '1')"
        )
    wiring, version = create_wiring(store, "c", "Own", WIRING)
    text = str(get_version(store, version)["text"])
    assert "like:" not in text
    assert "  # our_bridge, read 2026-11-03: loaded peaks" in text
    assert "# the hot one" in text
    assert coils_of(text)["bridge"].capacitance_f == pytest.approx(150e-12)
    saved = save(store, wiring, version, (), text=WIRING + "name: Again\n")
    assert coils_of(str(get_version(store, saved.id)["text"]))["neck"].resistance_ohm == 8120.0


def test_a_served_file_may_name_one_and_is_not_changed_by_that(store: Store, tmp_path: Path) -> None:
    file = tmp_path / "own.yaml"
    file.write_text(WIRING, encoding="utf-8")
    assert import_wiring_files(store, [file]) == []
    _, version = latest_of_file(store, file)
    row = get_version(store, version)
    assert coils_of(str(row["text"]))["neck"].inductance_h == 3.21
    assert import_file_change(store, str(row["wiring_id"])) is None
    assert file.read_text(encoding="utf-8") == WIRING
    file.write_text(WIRING.replace("150 pF", "160 pF"), encoding="utf-8")
    newer = import_file_change(store, str(row["wiring_id"]))
    assert newer is not None
    assert coils_of(str(get_version(store, newer.id)["text"]))["bridge"].capacitance_f == pytest.approx(
        160e-12
    )


def test_a_command_reads_it_from_this_computers_folder(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "own.yaml"
    file.write_text(WIRING, encoding="utf-8")
    monkeypatch.setenv(DATA, str(tmp_path / "nothing here"))
    with pytest.raises(InputError):
        load_wiring(file)
    assert not (tmp_path / "nothing here" / FILE).exists(), "reading makes no data folder"
    monkeypatch.setenv(DATA, str(store.folder))
    assert load_wiring(file).coils["neck"].inductance_h == 3.21
    done = call("set", str(file), "bridge.resistance=8 kΩ", "--out", str(tmp_path / "sent.yaml"))
    assert done.exit_code == 0, done.output
    sent = (tmp_path / "sent.yaml").read_text(encoding="utf-8")
    assert coils_of(sent)["bridge"].resistance_ohm == 8000.0
    assert "our_bridge, read 2026-11-03" in sent


def test_names_are_checked_and_free(store: Store) -> None:
    for name, got in (("two words", "'two words'"), ("narrow_single_medium", "which the library has")):
        with pytest.raises(InputError, match=got):
            own_coils.keep_coils(store, [OwnCoil(name, "2026-11-03", "m", FIELDS, {})])
    second = OwnCoil("second", "2026-11-03", "m", FIELDS, {})
    with pytest.raises(Conflict, match="which a coil read 2026-11-03 has"):
        own_coils.keep_coils(store, [second, OURS])
    assert [coil.name for coil in own_coils.list_coils(store)] == ["our_bridge"], "all or none"


def test_a_coil_is_renamed_removed_and_brought_back(store: Store) -> None:
    own_coils.rename_coil(store, "our_bridge", "hot")
    with pytest.raises(Unknown, match="'our_bridge'"):
        own_coils.get_coil(store, "our_bridge")
    gone = own_coils.remove_coil(store, "hot")
    assert own_coils.list_coils(store) == []
    own_coils.keep_coils(store, [OwnCoil("hot", "2026-11-04", "m", FIELDS, {})])
    with pytest.raises(Conflict, match="2026-11-04"):
        own_coils.restore_coil(store, gone)
    own_coils.rename_coil(store, "hot", "other")
    assert own_coils.restore_coil(store, gone).record == OURS.record
    assert [coil.name for coil in own_coils.list_coils(store)] == ["hot", "other"]


def test_a_coil_is_looked_up_in_the_transaction_that_changes_it(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Just before the write begins, another program gives the name to another coil."""
    write = store.write

    def beaten() -> AbstractContextManager[Connection]:
        monkeypatch.setattr(store, "write", write)
        own_coils.remove_coil(store, "our_bridge")
        own_coils.keep_coils(store, [OwnCoil("our_bridge", "2026-11-05", "m", FIELDS, {})])
        return write()

    monkeypatch.setattr(store, "write", beaten)
    own_coils.rename_coil(store, "our_bridge", "hot")
    assert own_coils.get_coil(store, "hot").day == "2026-11-05"
    own_coils.rename_coil(store, "hot", "our_bridge")
    monkeypatch.setattr(store, "write", beaten)
    own_coils.remove_coil(store, "our_bridge")
    assert own_coils.list_coils(store) == []


def test_the_commands_keep_list_print_and_export(tmp_path: Path) -> None:
    data = ("--data", str(tmp_path / "data"))
    told = ("--peak", "470p=4.1k", "--peak", "2n2=2.3k", "--height", "9", "--dc", "8.12k")
    assert "No coil is kept yet" in call("coils", *data).output
    done = call("coil", *told, "--keep", "hot", *data)
    assert done.exit_code == 0, done.output
    again = call("coil", *told, "--keep", "hot", *data)
    assert again.exit_code == 1
    assert "another name" in again.output
    assert call("coil", *told, "--keep", "a", "--keep", "b", *data).exit_code == 2
    listed = call("coils", *data).output
    assert listed.startswith("hot ")
    assert "8.12 kΩ" in listed
    text = call("coils", "hot", *data).output
    wiring = f"format: 1\nparts:\n{text}  output: {{kind: jack}}\njoints:\n  - [hot.start, output.tip]\n"
    assert coils_of(wiring)["hot"].resistance_ohm == 8120.0
    (kept,) = json.loads(call("coils", "--json", *data).output)["coils"]
    assert kept["record"]["resistance_ohm"] == pytest.approx(8120.0, rel=1e-3)
    assert kept["curve"] is None
    assert call("coils", "hot", "--rename", "hotter", *data).exit_code == 0
    assert "--restore" in call("coils", "hotter", "--remove", *data).output
    assert call("coils", "hotter", "--restore", *data).exit_code == 0
    assert call("coils", "hot", *data).exit_code == 1
    assert call("coils", "--remove", *data).exit_code == 2


def test_a_write_that_is_refused_shows_the_values_and_keeps_nothing(tmp_path: Path) -> None:
    """The same command, put right, finds its name free."""
    data = ("--data", str(tmp_path / "data"))
    wiring = tmp_path / "wiring.yaml"
    text = WIRING.replace("like: our_bridge # as the bridge", "kind: coil\n    like: narrow_single_hot")
    wiring.write_text(text.replace("like: our_bridge", "resistance: 8 kΩ, inductance: 3 H"), encoding="utf-8")
    told = (
        "--peak",
        "470p=4.1k",
        "--peak",
        "2n2=2.3k",
        "--height",
        "9",
        "--dc",
        "8.12k",
        "--out",
        str(wiring),
    )
    refused = call("coil", *told, "--name", "bidge", "--keep", "hot", *data)
    assert refused.exit_code == 1
    assert "bidge" in refused.output
    assert "8.12 kΩ" in refused.output
    assert "No coil is kept yet" in call("coils", *data).output
