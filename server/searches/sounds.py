"""The range of sounds as the page asks for it: a first answer at once, better ones, the proof.

Reports, by name: ``phase``, ``share``, ``sounds``, ``set`` (the best so far, with its proof),
``others`` (sets nearly as good), ``notes``, ``map`` (the candidates on a plane), ``facts_share``,
``costs`` (what each condition costs, with the set without it), ``costs_share``.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from dsp.errors import InputError
from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree
from server.searches.sound_map import Facts, map_json, set_json, shown_of

if TYPE_CHECKING:
    from dsp.lugs.best_set import BestSet
    from dsp.sounds.candidates import Candidates
    from dsp.sounds.choose import Choice
    from dsp.sounds.prices import Price
    from dsp.sounds.request import SetRequest
    from dsp.sounds.rules import SetRules
    from server.processes.reports import Report

FILE = "wiring"
FACTS_S = 30.0
"""Time for the words of all candidates shown, beside what the search itself needs."""
FIRST_S, LOAD_S = 60.0, 5.0
"""Seconds beyond the time given: for a first answer, which there shall be, and to load the solver."""
REPORT_EVERY_S = 0.15


def read(text: str) -> Wiring:
    """The wiring of a text."""
    return read_wiring(parse_tree(text, FILE), FILE)


def run(text: str, options: Mapping[str, Any], report: Report) -> None:
    """Find the set of sounds farthest apart, and report all the while.

    Parameters
    ----------
    text : str
        Of a wiring whose selector is a sketch.
    options : mapping
        As its form has them.

    Raises
    ------
    InputError
        If there is nothing to search among, or no set keeps the rules.
    """
    from dsp.sounds.candidates import find_candidates
    from dsp.sounds.request import rules_of

    wiring = read(text)
    coils = options["coils"] or list(wiring.coils)
    _enough_coils(wiring, coils)
    report(phase="sounds", notes=_notes(wiring, coils))
    found = find_candidates(
        wiring, coils=coils, extra=options["extra"] or None, progress=ShareReporter(report, "share")
    )
    rules, given_way = rules_of(wiring, found, _request(found, options))
    if given_way:
        report(notes=[*_notes(wiring, coils), *given_way])
    search = _Search(wiring, found, rules, options, report)
    best = search.on_switch() if options["switch"] else search.anywhere()
    others = [] if options["switch"] else search.others(best)
    search.facts([*search.chosen, *(i for one in others for i in one)])
    if options["costs"]:
        search.prices(search.best or best)
    report(phase="done", share=1.0)


class ShareReporter:
    """Reports a share, not too often."""

    def __init__(self, report: Report, name: str) -> None:
        self._report, self._name, self._last = report, name, 0.0

    def __call__(self, share: float) -> None:
        if time.monotonic() - self._last >= REPORT_EVERY_S:
            self._last = time.monotonic()
            self._report(**{self._name: round(share, 3)})


def _enough_coils(wiring: Wiring, coils: Sequence[str]) -> None:
    unknown = next((name for name in coils if name not in wiring.coils), None)
    if unknown is not None:
        raise InputError("coils", f"'{unknown}'", ", ".join(wiring.coils))
    if len(coils) < 2:
        got = "no coil" if not coils else f"one coil, {coils[0]}"
        raise InputError("coils", got, "two coils or more: one alone makes one sound")


def _notes(wiring: Wiring, coils: Sequence[str]) -> list[str]:
    """What the answer's reader must know of the question."""
    notes = []
    if wiring.instrument is None or not wiring.instrument.strings:
        notes.append("The wiring names no strings: six common ones are taken.")
    lost = [name for name in coils if wiring.coils[name].at_m is None and not wiring.coils[name].dummy]
    if lost:
        notes.append(
            f"No place is given for {', '.join(lost)}: taken as standing where the others' average would, so "
            "what their places do to the sound is not in the distances. Give each its place from the bridge."
            if len(lost) < len(coils)
            else "No coil has a place: all are taken as standing in one place, so only what the circuit does "
            "is in the distances. Give each its place from the bridge."
        )
    return notes


def profiles_json() -> list[dict[str, Any]]:
    """The profiles' conditions by the options' names; null for any level."""
    from dsp.sounds.conditions import ANY_DB, PROFILES

    return [
        {"name": name, **{key: None if value == ANY_DB else value for key, value in asdict(one).items()}}
        for name, one in PROFILES.items()
    ]


def _request(found: Candidates, options: Mapping[str, Any]) -> SetRequest:
    from dsp.sounds.pins import find_pinned
    from dsp.sounds.request import SetRequest

    in_phase = options["in_phase"]
    return SetRequest(
        options["count"],
        options["profile"],
        quiet=str(options["quiet"]),
        in_phase=None if in_phase is None else str(in_phase),
        window_db=options["window_db"],
        spread_db=options["spread_db"],
        step_db=options["step_db"],
        levels=options["levels"],
        usual=options["usual"],
        plain=options["plain"],
        order=options["order"],
        in_order=options["in_order"],
        thinnest=options["thinnest"],
        pinned=tuple(find_pinned(found, pin) for pin in options["pins"]),
        without=tuple(dict.fromkeys(find_pinned(found, ban) for ban in options["bans"])),
        places=tuple((one["position"], find_pinned(found, one["expression"])) for one in options["places"]),
    )


class _Search:
    """One search and its reports."""

    def __init__(
        self,
        wiring: Wiring,
        found: Candidates,
        rules: SetRules,
        options: Mapping[str, Any],
        report: Report,
    ) -> None:
        self.wiring, self.found, self.rules, self.options = wiring, found, rules, options
        self.report, self._begun, self._last = report, time.monotonic(), 0.0
        self.chosen: tuple[int, ...] = ()
        self.best: Choice | None = None
        self._facts = Facts(wiring, found)
        self._shown = shown_of(found, ())

    def left_s(self) -> float:
        """Seconds left of the time it was given."""
        return float(self.options["seconds"]) - (time.monotonic() - self._begun)

    def anywhere(self) -> Choice:
        """The best set, whatever the switch."""
        from dsp.sounds.alternatives import prefer_quiet
        from dsp.sounds.choose import choose_sets

        self.report(phase="searching", sounds=len(self.found), left_s=self.left_s() + FIRST_S)
        answers = choose_sets(self.found, self.rules, stop=lambda: self.left_s() <= 0.0)
        best = next(answers)  # one comes at once, or an error
        self._report_better(best, first=True)
        self.report(left_s=max(self.left_s(), 0.0))
        while self.left_s() > 0.0 and (better := next(answers, None)) is not None:
            best = better
            self._report_better(best)
        best = prefer_quiet(self.found, self.rules, best, stop=lambda: self.left_s() <= 0.0)
        self._report_better(best, last=True)
        return best

    def on_switch(self) -> Choice:
        """The best set that a switch can make."""
        self.report(phase="switch", sounds=len(self.found))
        total = float(self.options["seconds"])
        self.report(left_s=1.1 * total + LOAD_S)  # a chart found late is wired all the same
        answer = self._find_on_switch(self.rules, self.left_s, self._report_tried)
        if answer.chart is None:
            got = f"{answer.tried} sets tried, {answer.ruled_out} of them ruled out"
            if answer.every_chart:
                got = (
                    "no chart that keeps the rules" if answer.choice.proved else "no chart found in the time"
                )
            raise InputError(
                "switch", got, "a switch with more poles, fewer positions or rules, or more time"
            )
        if not answer.every_chart:
            self.report(tried=answer.tried, ruled_out=answer.ruled_out)
        self.report(anywhere_db=round(answer.best_db, 2))
        self._report_set(answer.choice, answer.sounds, answer.choice.bound_db)
        return answer.choice

    def _find_on_switch(
        self,
        rules: SetRules,
        left_s: Callable[[], float],
        progress: Callable[[BestSet], None] | None = None,
    ) -> BestSet:
        from dsp.lugs.best_set import find_best_set
        from server.searches.switches import switch_of

        switch = switch_of(self.options["switch"])
        return find_best_set(self.wiring, self.found, rules, switch, left_s=left_s, progress=progress)

    def _report_tried(self, one: BestSet) -> None:
        if one.every_chart:
            self.report(anywhere_db=round(one.best_db, 2), below_db=round(one.choice.bound_db, 2))
            if one.chart is not None:
                self._report_set(one.choice, one.sounds, one.choice.bound_db)
            return
        self.report(
            tried=one.tried, ruled_out=one.ruled_out, anywhere_db=round(one.best_db, 2),
            trying_db=round(one.choice.distance_db, 2),
        )  # fmt: skip

    def _report_better(self, best: Choice, *, first: bool = False, last: bool = False) -> None:
        """Report a set: at once if it is the first, the last or another one, else not too often."""
        chosen = self._ordered(best)
        if not (first or last or chosen != self.chosen) and time.monotonic() - self._last < REPORT_EVERY_S:
            return
        self._report_set(best, chosen, best.bound_db)

    def _report_set(self, best: Choice, chosen: tuple[int, ...], bound_db: float) -> None:
        fresh = chosen != self.chosen
        self.best = best
        self.chosen, self._last = chosen, time.monotonic()
        self._facts.work_out(chosen)
        values = set_json(self.found, chosen, self._facts)
        values |= {
            "bound_db": None if bound_db == float("inf") else round(bound_db, 4),
            "proved": best.proved,
            "at_s": round(time.monotonic() - self._begun, 2),
        }
        self.report(set=values)
        if fresh:
            self._report_map(chosen)

    def _report_map(self, more: Sequence[int]) -> None:
        from dsp.sounds.areas import allowed_candidates

        self._shown = shown_of(self.found, more, self._shown)
        allowed = set(allowed_candidates(self.found, self.rules).tolist())
        self.report(map=map_json(self.found, self._shown, allowed, self._facts))

    def others(self, best: Choice) -> list[tuple[int, ...]]:
        """Return sets nearly as good that do without one of the best's positions.

        Where the best was not proved, one of them may be better: it is reported as the set then.
        """
        from dsp.sounds.alternatives import find_alternatives, take_better
        from dsp.sounds.choose import LEAST_GAIN_DB

        self.report(phase="others", answered=True, left_s=max(self.left_s(), 0.0))
        if self.left_s() <= 0.0 or best.distance_db == float("inf"):
            return []
        sets: list[Choice] = []
        for one in find_alternatives(self.found, self.rules, best, stop=lambda: self.left_s() <= 0.0):
            sets.append(one)
            worse = [other for other in sets if other.distance_db <= best.distance_db + LEAST_GAIN_DB]
            self.report(others=[self._other_json(other, best) for other in worse])
        better, rest = take_better(best, sets)
        if better is not best:
            self._report_better(better, last=True)
            self.report(others=[self._other_json(other, better) for other in rest])
        return [self._ordered(one) for one in rest]

    def _ordered(self, one: Choice, rules: SetRules | None = None) -> tuple[int, ...]:
        from dsp.sounds.rules import set_in_order

        return set_in_order(self.found, rules or self.rules, one.chosen)

    def _other_json(self, one: Choice, best: Choice) -> dict[str, Any]:
        chosen = self._ordered(one)
        new = [self.found.expression_text(i) for i in chosen if i not in best.chosen]
        gone = [self.found.expression_text(i) for i in best.chosen if i not in one.chosen]
        return {**set_json(self.found, chosen, self._facts), "new": new, "gone": gone}

    def facts(self, first: Sequence[int]) -> None:
        """Words for all that is shown, those of the sets first."""
        self._report_map([*self.chosen, *first])
        self.report(phase="facts", facts_share=0.0, answered=True, left_s=2.0 * FACTS_S)
        begun, shown = time.monotonic(), list(dict.fromkeys([*first, *self._shown]))
        share = ShareReporter(self.report, "facts_share")
        for start in range(0, len(shown), 16):
            if time.monotonic() - begun > FACTS_S:
                break
            self._facts.work_out(shown[start : start + 16])
            share((start + 16) / len(shown))
        self._report_map(())
        self.report(facts_share=1.0)

    def prices(self, best: Choice) -> None:
        """Report what each condition costs; each has the time of a search."""
        from dsp.sounds.prices import find_prices, without_each

        total = len(without_each(self.rules))
        seconds = float(self.options["seconds"])
        self.report(phase="costs", answered=True, costs=[], costs_share=0.0)
        rows: list[dict[str, Any]] = []

        def search(rules: SetRules) -> tuple[Choice, tuple[int, ...]]:
            begun = time.monotonic()
            self.report(left_s=1.2 * seconds + LOAD_S + FIRST_S)
            return self._find_once(rules, lambda: seconds - (time.monotonic() - begun))

        for one in find_prices(self.rules, best, search):
            if one.choice is not None:
                self._facts.work_out(one.sounds)
                self._report_map(one.sounds)
            rows.append(self._price_json(one))
            self.report(costs=list(rows), costs_share=round(len(rows) / total, 3))
        self._report_map(())
        self.report(costs_share=1.0)

    def _find_once(self, rules: SetRules, left_s: Callable[[], float]) -> tuple[Choice, tuple[int, ...]]:
        """Return the best set for other rules, on the same switch if there is one."""
        from dsp.sounds.alternatives import find_best

        if self.options["switch"]:
            answer = self._find_on_switch(rules, left_s)
            if answer.chart is None:
                raise InputError("switch", "no chart in the time", "more time")
            return answer.choice, answer.sounds
        best = find_best(self.found, rules, stop=lambda: left_s() <= 0.0)
        return best, self._ordered(best, rules)

    def _price_json(self, one: Price) -> dict[str, Any]:
        known = one.choice is not None
        return {
            "condition": one.condition,
            "costs_db": None if one.costs_db is None else round(one.costs_db, 4),
            "proved": one.proved,
            "without": set_json(self.found, one.sounds, self._facts) if known else None,
        }
