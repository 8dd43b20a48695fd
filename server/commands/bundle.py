"""`presolder bundle`: a proposal as one file, or as a folder for any web host."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dsp.chain.ways import WAYS
from server.commands import common
from server.files.existing import real_path
from server.settings import data_folder

if TYPE_CHECKING:
    from server.database.store import Store

LOOK_EVERY_S = 0.2
USUAL_WAY = WAYS["clean"].name
USUAL_DAYS = 30
HELP = {
    "take": "A take file, or a sound file as a recording of a flat sensor; repeatable. With --proposal, one "
    "that is neither the demo's nor uploaded: without it the knobs do not turn with that take.",
    "proposal": "A proposal made at the bench, by its id, instead of a wiring file.",
    "list": "Print the proposals of the data folder: id, date, title.",
    "through": f"How the customer hears it: {', '.join(WAYS)}. Clean unless given.",
    "title": "What the customer reads at the top; the wiring's name unless given.",
    "out": "A name that ends in .html is one file, in .zip a ZIP, any other a folder.",
    "data": "Folder that keeps the proposal; the platform's own unless given.",
}
EPILOG = """\b
Examples:
  presolder bundle baritone.yaml --take e_slide.yaml --out sounds.html
  presolder bundle baritone.yaml --take e_slide.yaml -p 1 --set tone=5 --out sounds.zip
  presolder bundle --list

A proposal of the bench is named by its id, which --list prints, in --proposal.

The page opens without a network and reaches nobody. Its knobs turn, in one file with as many takes as
fit into 8 MB, in a folder with all. Heard in edge or driven they turn by a link alone. What was sent
cannot be called back.
"""


@click.command(epilog=EPILOG)
@click.argument("file", required=False, type=common.EXISTING)
@click.option("--take", "takes", multiple=True, type=common.EXISTING, help=HELP["take"])
@common.position_option
@common.set_option
@click.option("--through", type=click.Choice(list(WAYS)), help=HELP["through"])
@click.option("--title", metavar="TEXT", help=HELP["title"])
@click.option("--proposal", metavar="ID", help=HELP["proposal"])
@click.option("--list", "as_list", is_flag=True, help=HELP["list"])
@click.option("--data", type=common.EXISTING, metavar="DIR", help=HELP["data"])
@click.option("--out", type=common.EXISTING, metavar="OUT", help=HELP["out"])
def command(
    file: Path | None,
    takes: tuple[Path, ...],
    position: str,
    controls: tuple[str, ...],
    through: str | None,
    title: str | None,
    proposal: str | None,
    as_list: bool,
    data: Path | None,
    out: Path | None,
) -> None:
    """Save a proposal for sending: its sounds and drawings in one file.

    A wiring file becomes a proposal of its positions, which the bench keeps. The same file, takes and
    settings find it again while its link is open.
    """
    if (file is not None) + (proposal is not None) + as_list != 1:
        raise click.UsageError("allowed: one of a wiring file, --proposal and --list")
    if out is None and not as_list:
        raise click.UsageError("--out is missing")
    if (takes and as_list) or (file is not None and not takes):
        raise click.UsageError("--take: allowed with a wiring file, and needed there, or with --proposal")
    if file is None and (controls or title is not None or through is not None or position != "all"):
        raise click.UsageError("--position, --set, --through, --title: allowed with a wiring file only")
    from server.database.store import Store

    with common.report_errors():
        store = Store(data or data_folder())
        try:
            if as_list:
                _list(store)
            elif out is not None:
                places = tuple(dict.fromkeys(real_path(take).parent for take in takes))
                made = proposal or _propose(
                    store, file, takes, places, position, controls, title, through or USUAL_WAY
                )
                _save(store, made, out, places)
        finally:
            store.close()


def _list(store: Store) -> None:
    from server.proposals.store import all_proposals

    for row in all_proposals(store):
        click.echo(f"{row['id']}  {row['created'][:10]}  {row['title']}")


def _propose(
    store: Store,
    file: Path | None,
    takes: tuple[Path, ...],
    places: tuple[Path, ...],
    position: str,
    controls: tuple[str, ...],
    title: str | None,
    way: str,
) -> str:
    """Return the proposal of a wiring file, with its clips: an earlier one if it offers the same."""
    from dsp.errors import InputError
    from server.bench.hearing import Draft, Hearing
    from server.clips.keys import take_key
    from server.commissions.wiring_files import import_wiring_files, latest_of_file
    from server.proposals import store as proposals
    from server.proposals.describe import SoundRequest, describe_sounds, describe_wirings
    from server.proposals.earlier import find_earlier
    from server.takes.library import Library

    assert file is not None
    wiring = common.load(file)
    settings = common.settings_of(wiring, position, controls)
    library = Library(store, places)
    try:
        rows = [library.require(library.id_of(take)) for take in takes]
        keys = {row.id: take_key(library.performance(row.id)) for row in rows}
    finally:
        library.close()
    if problems := import_wiring_files(store, [real_path(file)]):
        raise InputError.of(problems)
    commission, version = latest_of_file(store, real_path(file))
    sounds = [
        SoundRequest(Hearing(Draft(version), one.position, dict(one.knobs), dict(one.switches)))
        for one in settings
    ]
    offered = [proposals.OfferedTake(row.id, row.name, row.seconds or 0.0, row.coil_places) for row in rows]
    title = title or wiring.name or file.stem
    items = describe_sounds(store, sounds)
    offer = (commission, title, items, describe_wirings(store, title, items, []), offered)
    made = find_earlier(store, *offer, keys, [way])
    made = made or proposals.create(store, *offer, days=USUAL_DAYS, ways=[way])[0]
    _render(store, made, places)
    return made


def _render(store: Store, proposal: str, places: tuple[Path, ...]) -> None:
    """Render the clips of a proposal; a server at the same data folder may do it instead."""
    from dsp.errors import InputError
    from server.proposals.views import for_bench
    from server.proposals.work import empty_queue

    with common.show_progress("sounds") as show:
        while True:
            worker = threading.Thread(target=empty_queue, args=(store.folder, places), daemon=True)
            worker.start()
            while worker.is_alive():
                worker.join(LOOK_EVERY_S)
                show(for_bench(store, proposal)["ready"])
            found = for_bench(store, proposal)
            if found["failed"]:
                raise InputError("the proposal", "; ".join(found["failed"]), "takes that fit the wiring")
            if found["ready"] >= 1.0:
                return


def _save(store: Store, proposal: str, out: Path, places: tuple[Path, ...]) -> None:
    from server.bench.hearing import open_bench
    from server.bundles.making import make_bundle, make_folder_files
    from server.files.whole import make_folder, write_bytes
    from server.takes.library import Library

    library = Library(store, places)
    bench = open_bench(store, library)
    try:
        with common.show_progress("knobs") as show:
            if out.suffix in (".html", ".zip"):
                made = make_bundle(bench, store, proposal, "zip" if out.suffix == ".zip" else "file", show)
                files, note = {out: made.content}, made.note
            else:
                inside, note = make_folder_files(bench, store, proposal, show)
                files = {out / path: content for path, content in inside.items()}
    finally:
        library.close()
    for path, content in files.items():
        if path != out:
            make_folder(path.parent)
        write_bytes(path, content)
    count = "" if out in files else f"{len(files)} files, "
    click.echo(f"{out}: {count}{sum(map(len, files.values())) / 1e6:.1f} MB")
    if note:
        click.echo(note, err=True)
