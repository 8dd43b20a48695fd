"""`presolder range`: find the positions that differ most."""

from __future__ import annotations

import json
import math
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from dsp.circuit.hum_limits import CANCELLING_DB
from dsp.errors import InputError, nearest
from dsp.sound.audible import BAND_DB, apart_text, word_of
from dsp.sounds.conditions import ALL, LEVELS, ORDERS, PROFILES, WIRED, least_of
from dsp.units import show
from server.commands import common

if TYPE_CHECKING:
    from dsp.lugs.best_set import BestSet
    from dsp.parts.kind import Terminal
    from dsp.sounds.candidates import Candidates
    from dsp.sounds.choose import Choice
    from dsp.sounds.prices import Price
    from dsp.sounds.rules import SetRules
    from dsp.wiring.model import Wiring

EPILOG = """\b
Examples:
  presolder range baritone_sketch.yaml --positions 5
  presolder range baritone_sketch.yaml --positions 6 --quiet 3 --in-phase --svg map.svg
  presolder range baritone_sketch.yaml --positions 5 --pin "neck_a + neck_b" --out best.yaml
  presolder range baritone_sketch.yaml --positions 5 --switch blade_5_four_pole --out best.yaml
  presolder range baritone_sketch.yaml --positions 5 --profile useful --costs
  presolder range baritone_sketch.yaml --positions 5 --levels clean --spread 3
  presolder range baritone_sketch.yaml -n 5 --in-phase-positions 60% --step 6 --order neck --at "1=neck_a"

FILE's selector is a sketch: it says where hot and cold lead. The distance is computed (root mean square
over bands of the ear, without level). Whether the two sounds most alike can be told apart is said by
published thresholds of the band that differs most. Neither says what anybody likes.
"""
LEAST_FAVOUR, MOST_FAVOUR = 0.1, 10.0
DECIBELS = click.FloatRange(min=0.0)


def _defaults(name: str) -> str:
    """Return what each profile takes for a condition, in brackets."""

    def words(value: object) -> str:
        if isinstance(value, bool):
            return "yes" if value else "no"
        return "any" if value == math.inf else f"{value:g}" if isinstance(value, float) else str(value)

    return f"[{', '.join(f'{key}: {words(getattr(one, name))}' for key, one in PROFILES.items())}]"


@click.command(epilog=EPILOG)
@click.argument("file", type=common.EXISTING)
@click.option(
    "--positions", "-n", "count", type=int, default=5, show_default=True, help="How many positions."
)
@click.option(
    "--quiet",
    default="0",
    show_default=True,
    metavar="M|P%|all",
    help=f"Hum-cancelling positions, at least: a number or a share. Hum cancels if {CANCELLING_DB:g} dB or"
    " less of it is left.",
)
@click.option("--pin", "pins", multiple=True, metavar="EXPRESSION", help="Keep this sound; repeatable.")
@click.option(
    "--leave-out",
    "left_out",
    multiple=True,
    metavar="EXPRESSION",
    help="Leave this sound out; repeatable.",
)
@click.option(
    "--favour",
    "favours",
    multiple=True,
    metavar="EXPRESSION=FACTOR",
    help="Multiply a sound's distances by 0.1 to 10; above 1 favours it; repeatable.",
)
@click.option(
    "--profile",
    type=click.Choice(["widest", "useful"]),
    default="widest",
    show_default=True,
    help="useful: what a builder would solder; see the conditions below.",
)
@click.option("--costs", is_flag=True, help="Show what each condition costs in dB of range.")
@click.option("--coil", "coils", multiple=True, help="Use this coil only (6 coils at most); repeatable.")
@click.option("--extra", metavar="PART", help="A capacitor, resistor or inductor to put into every sound.")
@click.option("--in-phase", is_flag=True, help="Leave out sounds in which coils are out of phase.")
@click.option(
    "--in-phase-positions",
    metavar="M|P%|all",
    help=f"Positions in phase, at least: a number or a share. {_defaults('in_phase')}",
)
@click.option(
    "--usual/--any-connection",
    default=None,
    help="Usual connections only: each pickup whole, its coils in parallel or one of them; pickups in"
    f" parallel. {_defaults('usual')}",
)
@click.option(
    "--plain/--no-plain",
    default=None,
    help=f"Keep the plain sounds: each pickup, and neighbours together. {_defaults('plain')}",
)
@click.option(
    "--window",
    type=DECIBELS,
    metavar="DB",
    help=f"Largest drop below the loudest of all sounds. {_defaults('window_db')}",
)
@click.option(
    "--spread",
    type=DECIBELS,
    metavar="DB",
    help=f"Largest difference in level between two positions. {_defaults('spread_db')}",
)
@click.option(
    "--step",
    type=DECIBELS,
    metavar="DB",
    help=f"Largest difference in level between neighbours along the selector. {_defaults('step_db')}",
)
@click.option(
    "--levels",
    type=click.Choice(list(LEVELS)),
    default=WIRED,
    show_default=True,
    help="Where --window, --spread and --step compare levels: as wired, or as heard through clean.",
)
@click.option("--thinnest", type=float, default=0.0, help="Smallest share of energy below 250 Hz, 0 to 1.")
@click.option(
    "--order",
    type=click.Choice(list(ORDERS)),
    help=f"Order along the selector: {', '.join(ORDERS.values())}. {_defaults('order')}",
)
@click.option(
    "--at",
    "by_hand",
    multiple=True,
    metavar="POSITION=EXPRESSION",
    help="Keep this sound, at this position; repeatable. The others fill the rest in order.",
)
@click.option(
    "--keep-order",
    is_flag=True,
    help="On a switch that makes an order of its own: only charts that keep the order.",
)
@click.option(
    "--switch",
    "switch_names",
    multiple=True,
    metavar="NAME|FILE",
    help="Keep to sets that this switch can make; repeat it for a second or third switch.",
)
@common.link_lead_option
@click.option("--take", type=common.EXISTING, help="Judge by this take instead of the standard notes.")
@click.option(
    "--time", "seconds", type=float, default=20.0, show_default=True, help="Time limit of the proof, s."
)
@click.option("--svg", type=common.EXISTING, help="Write a map of all sounds.")
@click.option("--out", type=common.EXISTING, help="Write the wiring with these positions in its sketch.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(
    file: Path,
    count: int,
    quiet: str,
    pins: tuple[str, ...],
    left_out: tuple[str, ...],
    favours: tuple[str, ...],
    profile: str,
    costs: bool,
    coils: tuple[str, ...],
    extra: str | None,
    in_phase: bool,
    in_phase_positions: str | None,
    usual: bool | None,
    plain: bool | None,
    window: float | None,
    spread: float | None,
    step: float | None,
    levels: str,
    thinnest: float,
    order: str | None,
    by_hand: tuple[str, ...],
    keep_order: bool,
    switch_names: tuple[str, ...],
    link_leads: tuple[str, ...],
    take: Path | None,
    seconds: float,
    svg: Path | None,
    out: Path | None,
    as_json: bool,
) -> None:
    """Find the set of positions whose sounds differ most."""
    from dsp.sounds.alternatives import find_best
    from dsp.sounds.candidates import find_candidates
    from dsp.sounds.prices import find_prices
    from dsp.sounds.request import SetRequest, rules_of
    from dsp.sounds.rules import set_in_order
    from server.takes.load import spectra_of

    wiring = common.load(file)
    _check_names(wiring.coils, coils, "--coil")
    if in_phase and in_phase_positions is None:
        in_phase_positions = ALL
    for option, text in (("--quiet", quiet), ("--in-phase-positions", in_phase_positions)):
        _check_least(option, text, count)
    with common.report_errors():
        spectra = None if take is None else spectra_of(take, wiring)
        with common.show_progress("sounds") as progress:
            found = find_candidates(
                wiring,
                coils=coils or None,
                extra=extra,
                spectra=spectra,
                progress=progress,
                link_leads=common.parse_leads(link_leads),
            )
        request = SetRequest(
            count,
            profile,
            quiet=quiet,
            in_phase=in_phase_positions,
            window_db=window,
            spread_db=spread,
            step_db=step,
            levels=levels,
            usual=usual,
            plain=plain,
            order=order,
            in_order=keep_order,
            thinnest=thinnest,
            pinned=_places(found, pins),
            without=_places(found, left_out),
            places=tuple(_by_hand(found, one) for one in by_hand),
            weights=tuple(_weight(found, favour) for favour in favours),
        )
        rules, notes = rules_of(wiring, found, request)

        def search_switch(asked: SetRules) -> tuple[Choice, tuple[int, ...], str]:
            leads = common.parse_leads(link_leads)
            return _choose_for_switch(wiring, found, asked, switch_names, seconds, leads)

        def search_again(asked: SetRules) -> tuple[Choice, tuple[int, ...]]:
            if switch_names:
                return search_switch(asked)[:2]
            end = time.monotonic() + seconds
            one = find_best(found, asked, stop=lambda: time.monotonic() >= end)
            return one, set_in_order(found, asked, one.chosen)

        others: list[Choice] = []
        if switch_names:
            best, chosen, tried = search_switch(rules)
        else:
            best, others = _choose(found, rules, seconds)
            chosen, tried = set_in_order(found, rules, best.chosen), ""
        for line in (*notes, tried):
            if line:
                click.echo(line, err=True)
        prices = list(find_prices(rules, best, search_again)) if costs else []
        if svg is not None:
            _write_map(svg, found, chosen, f"{wiring.name or file.stem}: {count} positions", rules.quiet_db)
        if out is not None:
            _write_sketch(file, out, wiring.selector or "", [found.expression_text(i) for i in chosen])
    if as_json:
        entry = _entry(found, best, chosen, others)
        if costs:
            entry["costs"] = [_price_entry(found, one) for one in prices]
        click.echo(json.dumps(entry, indent=1, ensure_ascii=False))
    else:
        _print(found, best, chosen, others)
        _print_prices(prices)


def _choose(found: Candidates, rules: SetRules, seconds: float) -> tuple[Choice, list[Choice]]:
    """The last answer within the time, and others nearly as good; somebody watching sees the first."""
    from dsp.sounds.alternatives import find_alternatives, prefer_quiet, take_better
    from dsp.sounds.choose import choose_sets
    from dsp.sounds.rules import set_in_order

    end = time.monotonic() + seconds

    def is_over() -> bool:
        return time.monotonic() >= end

    answers = choose_sets(found, rules, stop=is_over)
    best = next(answers)  # comes at once, or raises
    if sys.stderr.isatty() and not best.proved:
        sounds = "; ".join(found.expression_text(i) for i in set_in_order(found, rules, best.chosen))
        click.echo(f"first set, {best.distance_db:.2f} dB: {sounds}", err=True)
    while not is_over() and (better := next(answers, None)) is not None:
        best = better
    best = prefer_quiet(found, rules, best, stop=is_over)
    return take_better(best, list(find_alternatives(found, rules, best, stop=is_over)))


def _choose_for_switch(
    wiring: Wiring,
    found: Candidates,
    rules: SetRules,
    switch_names: tuple[str, ...],
    seconds: float,
    link_leads: Sequence[Terminal],
) -> tuple[Choice, tuple[int, ...], str]:
    """The best set that a switch can make, in its order, and a line about the search."""
    from dsp.lugs.best_set import find_best_set
    from server.wirings.switches import load_switches

    options = " ".join(f"--switch {name}" for name in switch_names)
    start = time.monotonic()
    watching = sys.stderr.isatty()

    def tried(one: BestSet) -> None:
        if watching and one.chart is None:
            click.echo(f"set {one.tried}, {one.choice.distance_db:.2f} dB: not on this switch", err=True)

    answer = find_best_set(
        wiring,
        found,
        rules,
        load_switches(switch_names, wiring.selector or "selector", wiring.parts),
        left_s=lambda: max(seconds, 0.1) - (time.monotonic() - start),
        progress=tried,
        link_leads=link_leads,
    )
    if answer.chart is None:
        got = f"{answer.tried} sets tried, {answer.ruled_out} of them ruled out"
        allowed = "a switch with more poles, fewer positions, or more --time"
        if answer.every_chart:
            none = answer.choice.proved
            got = "no chart that keeps the rules" if none else "no chart found in the time"
            allowed = (
                f"a switch with more poles, fewer positions or fewer rules{'' if none else ', more --time'}"
            )
        raise InputError(options, got, allowed)
    told = f"sets tried on {' x '.join(switch_names)}: {answer.tried}, ruled out: {answer.ruled_out}"
    if answer.every_chart:
        how = "all charts" if answer.proved else "charts, as far as the time allowed,"
        told = f"{how} of {' x '.join(switch_names)} with up to two joints of lugs alone searched"
    text = (
        f"{told}; the best on any switch has {answer.best_db:.2f} dB."
        f" For its lug chart: presolder lugs FILE {options}"
    )
    return answer.choice, answer.sounds, text


def _price_entry(found: Candidates, price: Price) -> dict[str, Any]:
    known = price.choice is not None
    return {
        "condition": price.condition,
        "without_db": round(price.choice.distance_db, 4) if price.choice else None,
        "costs_db": round(price.costs_db, 4) if price.costs_db is not None else None,
        "proved": price.proved,
        "positions": [found.expression_text(i) for i in price.sounds] if known else None,
    }


def _print_prices(prices: Sequence[Price]) -> None:
    for one in prices:
        if one.choice is None or one.costs_db is None:
            click.echo(f"{one.condition:<32} not known in the time given")
            continue
        sure = "" if one.proved else " or so"
        without = f"{one.choice.distance_db:.2f} dB without"
        click.echo(f"{one.condition:<32} costs {one.costs_db:5.2f} dB{sure}: {without}")


def _check_least(option: str, text: str | None, count: int) -> None:
    try:
        least_of(text or "0", count, option)
    except InputError as error:
        (problem,) = error.problems
        raise click.UsageError(f"{option}: got {problem.got}; allowed: {problem.allowed}") from error


def _check_names(known: Any, names: Sequence[str], option: str) -> None:
    for name in names:
        if name not in known:
            raise click.UsageError(f"{option}: no coil '{name}'; {nearest(name, known) or ', '.join(known)}")


def _places(found: Candidates, expressions: Sequence[str]) -> tuple[int, ...]:
    """Numbers of the candidates that expressions name."""
    from dsp.sounds.pins import find_pinned

    return tuple(find_pinned(found, one) for one in expressions)


def _weight(found: Candidates, favour: str) -> tuple[int, float]:
    """A candidate and its factor, from --favour."""
    expression, equals, text = favour.rpartition("=")
    try:
        factor = float(text)
    except ValueError:
        factor = math.nan
    if not equals or not LEAST_FAVOUR <= factor <= MOST_FAVOUR:
        allowed = f"an expression, = and a factor of {LEAST_FAVOUR:g} to {MOST_FAVOUR:g}"
        raise click.UsageError(f"--favour: got '{favour}'; allowed: {allowed}")
    (place,) = _places(found, [expression])
    return place, factor


def _by_hand(found: Candidates, text: str) -> tuple[int, int]:
    """A position and its candidate, from --at."""
    place, equals, expression = text.partition("=")
    if not equals or not place.strip().isdecimal():
        raise click.UsageError(f"--at: got '{text}'; allowed: a position, = and an expression")
    (sound,) = _places(found, [expression.strip()])
    return int(place), sound


def _write_map(path: Path, found: Candidates, chosen: Sequence[int], title: str, quiet_db: float) -> None:
    from server.documents.sound_map import range_map
    from server.files.whole import write_text

    write_text(path, range_map(found, chosen, title, quiet_db=quiet_db))


def _write_sketch(file: Path, out: Path, selector: str, expressions: Sequence[str]) -> None:
    from server.wirings.labels import labels_of
    from server.wirings.text import WiringText

    if out.exists() and out.resolve() == file.resolve():
        raise InputError(
            str(out), "the file that was read", "another name: this would overwrite its positions"
        )
    text = WiringText.of(file)
    labels = labels_of(text.wiring(), expressions)  # of the sounds that the sketch had already
    text.put(
        ["parts", selector, "positions"], {str(n): expression for n, expression in enumerate(expressions, 1)}
    )
    text.put_labels(labels)
    text.save(out)


def _row(found: Candidates, i: int) -> dict[str, Any]:
    return {
        "expression": found.expression_text(i),
        "level_db": round(float(found.level_db[i] - found.level_db.max()), 2),
        "clean_level_db": round(float(found.clean_level_db[i] - found.clean_level_db.max()), 2),
        "brightness_hz": round(float(found.brightness_hz[i]), 1),
        "resonance_hz": None if math.isnan(found.resonance_hz[i]) else round(float(found.resonance_hz[i]), 1),
        "hum_residual_db": round(float(found.hum_db[i]), 1),
        "meter_ohm": round(float(ohm), 1) if math.isfinite(ohm := found.reading_ohm[i]) else None,
        "opposed": bool(found.opposed[i]),
    }


def _entry(
    found: Candidates, best: Choice, chosen: Sequence[int], others: Sequence[Choice]
) -> dict[str, Any]:
    return {
        "sounds": len(found),
        "distance_db": best.distance_db,
        "bound_db": best.bound_db,
        "proved": best.proved,
        "most_alike": _most_alike(found, chosen),
        "positions": [_row(found, i) for i in chosen],
        "alternatives": [
            {"distance_db": one.distance_db, "positions": [found.expression_text(i) for i in one.chosen]}
            for one in others
        ],
    }


def _nearest_pair(found: Candidates, chosen: Sequence[int]) -> tuple[int, int, float]:
    """Return the positions most alike, counted from 1, and the band in which they differ most, dB."""
    from dsp.sound.audible import largest_difference
    from dsp.sound.timbre import timbre_distance

    points = found.timbre[list(chosen)]
    pairs = [
        (float(timbre_distance(points[a], points[b])), a, b) for b in range(len(points)) for a in range(b)
    ]
    _, a, b = min(pairs)
    return a + 1, b + 1, float(largest_difference(points[a], points[b]))


def _most_alike(found: Candidates, chosen: Sequence[int]) -> dict[str, Any] | None:
    if len(chosen) < 2:
        return None
    first, second, largest_db = _nearest_pair(found, chosen)
    return {
        "positions": [first, second],
        "largest_db": round(largest_db, 2),
        "heard": word_of(largest_db, BAND_DB),
    }


def _print(found: Candidates, best: Choice, chosen: Sequence[int], others: Sequence[Choice]) -> None:
    for number, i in enumerate(chosen, 1):
        row = _row(found, i)
        peak = "no resonance" if row["resonance_hz"] is None else f"peak {row['resonance_hz']:>5.0f} Hz"
        meter = "open" if row["meter_ohm"] is None else show(row["meter_ohm"], "resistance")
        hum = "hum cancels" if row["hum_residual_db"] <= CANCELLING_DB else "hums"
        click.echo(
            f"{number:>2}  {row['expression']:<44} {row['level_db']:+6.1f} dB"
            f"  {row['clean_level_db']:+6.1f} LU through clean"
            f"  {row['brightness_hz']:>5.0f} Hz  {peak:<13}  {hum:<11}  {meter}"
        )
    state = "proved best" if best.proved else f"best found; none can be above {best.bound_db:.2f} dB"
    click.echo(f"smallest distance {best.distance_db:.2f} dB among {len(found)} sounds: {state}")
    if len(chosen) > 1:
        first, second, largest_db = _nearest_pair(found, chosen)
        click.echo(f"positions {first} and {second} are most alike: {apart_text(largest_db)}")
    click.echo(f"hum cancels: {CANCELLING_DB:g} dB or less of the coils' hum is left at the output")
    for one in others:
        click.echo(
            f"or, at {one.distance_db:.2f} dB: {'; '.join(found.expression_text(i) for i in one.chosen)}"
        )
