"""The sounds that pickups can make, in words, and which of them are usual."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, pairwise, product

from dsp.errors import InputError, nearest, some
from dsp.wiring.in_words.questions import PICKUP_KINDS
from dsp.wiring.in_words.words import InstrumentWords, coil_entries

BOTH, ONE_COIL, PARALLEL, SINGLE = "both coils", "one coil", "both coils in parallel", ""
GROUP = "side"
"""A pickup with controls of its own is a group; this ends its name."""
_DEPTH = {BOTH: 0, SINGLE: 0, PARALLEL: 1, ONE_COIL: 2}


@dataclass(frozen=True)
class WordedSound:
    """A sound in words and as an expression.

    Attributes
    ----------
    pickups : mapping of str to str
        What sounds of each pickup: a form such as ``both coils``; empty for all of it.
    how : {"parallel", "series", "out of phase"}
        How several pickups are joined.
    """

    words: str
    expression: str
    pickups: Mapping[str, str]
    how: str = "parallel"

    @property
    def label(self) -> str:
        """The words with a capital letter, as the label of a position."""
        return self.words[:1].upper() + self.words[1:]


def forward_places(words: InstrumentWords) -> frozenset[str]:
    """Return the places whose single coil is wound forward.

    Neighbours differ, so that they cancel hum together. Their magnets differ too: all are in phase.
    """
    return frozenset(list(words.pickups)[::2])


def one_coil_of(words: InstrumentWords, place: str) -> str:
    """Return the coil that plays alone: it cancels hum with a neighbour."""
    if PICKUP_KINDS[words.pickups[place]].apart_mm == 0.0:  # the lower of two stacked hears no strings
        return f"{place}_a"
    return f"{place}_{'a' if place in forward_places(words) else 'b'}"


def find_sounds(words: InstrumentWords) -> tuple[WordedSound, ...]:
    """Return every sound on offer, from the neck to the bridge.

    These are each pickup in each of its forms; two pickups in parallel in any forms; all three; whole
    pickups in series, and out of phase.
    """
    forms = {place: tuple(_forms_of(words, place)) for place in words.pickups}
    found = [_joined(words, {place: form}) for place in forms for form in forms[place]]
    for pair in combinations(forms, 2):
        found += [
            _joined(words, dict(zip(pair, chosen, strict=True)))
            for chosen in product(*(forms[p] for p in pair))
        ]
        whole = {place: forms[place][0] for place in pair}
        found.append(_joined(words, whole, "out of phase"))
        if not words.apart:
            found.append(_joined(words, whole, "series"))
    if len(forms) > 2:
        found += [_joined(words, all_) for all_ in _alike(forms)]
    order = list(words.pickups)
    return tuple(sorted(found, key=lambda sound: _place_along(sound, order)))


def usual_sounds(words: InstrumentWords, count: int, ups: int = 1) -> tuple[str, ...]:
    """Return the usual sounds of so many positions, in words, in order.

    Parameters
    ----------
    count : int
        Positions of the switch that selects.
    ups : int
        Positions of a second one, which changes fastest: beside each usual sound stand its variants,
        one coil in place of both first.

    Returns
    -------
    tuple of str
        Fewer than count x ups where the pickups cannot make so many.
    """
    known = find_sounds(words)
    by_words = {sound.words: sound for sound in known}
    ranked = [name for name in dict.fromkeys(_ranked(words)) if name in by_words]
    chosen = set(ranked[:count])
    plain = [sound.words for sound in known if sound.words in chosen]
    if ups < 2:
        return tuple(plain)
    found: list[str] = []
    for name in plain:
        found.append(name)
        likely = _variants(words, by_words[name])
        others = (n for n in (*likely, *ranked, *by_words) if n in by_words and n not in {*plain, *found})
        found += [n for n, _ in zip(others, range(ups - 1), strict=False)]
    return tuple(found)


def sounds_of(words: InstrumentWords, count: int, ups: int = 1) -> tuple[WordedSound, ...]:
    """Return the sounds wished for, or the usual ones.

    Raises
    ------
    InputError
        If these pickups have no such sound, or one stands twice.
    """
    wished = usual_sounds(words, count, ups) if words.sounds is None else words.sounds
    known = {sound.words: sound for sound in find_sounds(words)}
    for name in wished:
        if name not in known:
            raise InputError("sounds", f"'{name}'", some(known), nearest(name, known))
    if twice := [name for name in wished if wished.count(name) > 1]:
        raise InputError("sounds", f"'{twice[0]}' twice", "each sound once")
    if not wished:
        raise InputError("sounds", "none", f"one at least of: {some(known)}")
    return tuple(known[name] for name in wished)


def _forms_of(words: InstrumentWords, place: str) -> Iterator[str]:
    if words.apart or len(coil_entries(words.pickups[place], place)) == 1:
        yield SINGLE
    else:
        yield BOTH
        yield ONE_COIL
        if PICKUP_KINDS[words.pickups[place]].apart_mm > 0.0:
            yield PARALLEL


def _alike(forms: Mapping[str, tuple[str, ...]]) -> Iterator[dict[str, str]]:
    """All pickups whole; then with one coil of each that has two."""
    whole = {place: own[0] for place, own in forms.items()}
    split = {place: ONE_COIL if ONE_COIL in own else own[0] for place, own in forms.items()}
    yield whole
    if split != whole:
        yield split


def _joined(words: InstrumentWords, forms: Mapping[str, str], how: str = "parallel") -> WordedSound:
    """Put pickups together in words and as an expression."""
    members = [_expression(words, place, form) for place, form in forms.items()]
    several = len(members) > 1
    shown = [f"({one})" if several and " " in one else one for one in members]
    if how == "series":
        names = " and ".join(forms)
        return WordedSound(f"{names} in series", " + ".join(members), forms, how)
    if how == "out of phase":
        names = " with ".join(forms)
        return WordedSound(f"{names}, out of phase", f"{shown[0]} | -{shown[1]}", forms, how)
    return WordedSound(_parallel_words(forms), " | ".join(shown), forms)


def _parallel_words(forms: Mapping[str, str]) -> str:
    """Return ``neck, one coil, with bridge``."""
    pieces = [f"{place}, {form}" if form else place for place, form in forms.items()]
    text = pieces[0]
    for piece, word in zip(pieces[1:], ("with", "and"), strict=False):
        text = f"{text}{',' if ',' in text.rsplit(' with ', 1)[-1] else ''} {word} {piece}"
    return text


def _expression(words: InstrumentWords, place: str, form: str) -> str:
    if words.apart:
        return f"{place}_{GROUP}"
    if form == ONE_COIL:
        return one_coil_of(words, place)
    sign = {BOTH: " + ", PARALLEL: " | "}.get(form)
    return f"{place}_a{sign}{place}_b" if sign else place


def _place_along(sound: WordedSound, order: list[str]) -> tuple[float, float, int, str]:
    """Sort from the neck to the bridge; there the thick sounds stand at the ends."""
    middle = (len(order) - 1) / 2.0
    at = sum(order.index(place) for place in sound.pickups) / len(sound.pickups)
    depth = sum(_DEPTH[form] for form in sound.pickups.values()) / len(sound.pickups)
    how = ("series", "parallel", "out of phase").index(sound.how)
    return at, depth if at <= middle else -depth, how, sound.words


def _ranked(words: InstrumentWords) -> Iterator[str]:
    """The sounds in words, the most usual first (common practice)."""
    places = list(words.pickups)
    whole = {place: next(_forms_of(words, place)) for place in places}
    one = {p: ONE_COIL if ONE_COIL in set(_forms_of(words, p)) else whole[p] for p in places}
    ends = [places[-1], *places[:-1]]
    yield from (_parallel_words({place: whole[place]}) for place in ends)
    neighbours = list(pairwise(places))
    for pair in neighbours:
        mixed = any(whole[p] == SINGLE for p in pair)
        yield _parallel_words({p: (one if mixed else whole)[p] for p in pair})
    yield from (_parallel_words({place: one[place]}) for place in ends)
    yield from (_parallel_words({place: PARALLEL}) for place in ends)
    for forms in (whole, one):
        yield from (_parallel_words({p: forms[p] for p in pair}) for pair in neighbours)
        if len(places) > 2:
            yield _parallel_words({p: forms[p] for p in (places[0], places[-1])})
    if len(places) > 2:
        yield _parallel_words(whole)
    yield from (f"{' and '.join(pair)} in series" for pair in neighbours)


def _variants(words: InstrumentWords, sound: WordedSound) -> Iterable[str]:
    """What a second switch may make of a sound, the most natural first."""
    places = list(words.pickups)
    one = {p: ONE_COIL if ONE_COIL in set(_forms_of(words, p)) else f for p, f in sound.pickups.items()}
    yield _parallel_words(one)
    for place in (places[-1], places[0], *places):
        if place not in sound.pickups:
            added = {**sound.pickups, place: next(_forms_of(words, place))}
            yield _parallel_words({p: added[p] for p in places if p in added})
    if len(sound.pickups) == 2:
        yield f"{' and '.join(sound.pickups)} in series"
        yield f"{' with '.join(sound.pickups)}, out of phase"
