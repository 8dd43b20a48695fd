"""Texts that are not wiring files, each wrong in one way; all start from the valid file `HEAD`."""

from __future__ import annotations

COIL = "{kind: coil, resistance: 5k, inductance: 2H, capacitance: 80p}"
HEAD = f"format: 1\nparts:\n  a: {COIL}\n  output: {{kind: jack}}\n"

UNKNOWN = {  # the text, what was got, and what the message must say
    "a key at the top": (f"{HEAD}job: 1\n", "'job'", "joints"),
    "a kind": (f"{HEAD}  x: {{kind: resitor, resistance: 1M}}\n", "'resitor'", "did you mean 'resistor'?"),
    "a field": (
        f"{HEAD}  x: {{kind: resistor, resistence: 1M}}\n",
        "'resistence'",
        "did you mean 'resistance'?",
    ),
    "a choice": (HEAD.replace("80p}", "80p, winding: forwards}"), "'forwards'", "did you mean 'forward'?"),
    "a switch's function": (
        f"{HEAD}  x: {{kind: switch, poles: 2, function: on-of-on}}\n",
        "'on-of-on'",
        "did you mean 'on-off-on'?",
    ),
    "a switch's timing": (
        f"{HEAD}  x: {{kind: switch, poles: 2, positions: 2, timing: nonshorting}}\n",
        "'nonshorting'",
        "did you mean 'non-shorting'?",
    ),
    "a taper": (
        f"{HEAD}  x: {{kind: pot, resistance: 1M, taper: linaer}}\n",
        "linaer",
        "did you mean 'linear'?",
    ),
    "a field with a tolerance": (
        f"{HEAD}  x: {{kind: resistor, resistance: 1M, tolerance: {{resistence: 5 %}}}}\n",
        "'resistence'",
        "did you mean 'resistance'?",
    ),
    "a library part": (f"{HEAD}  x: {{like: nothing at all}}\n", "'nothing at all'", "presolder parts"),
    "a part in a joint": (
        f"{HEAD}joints: [[a.start, outputt.tip]]\n",
        "'outputt.tip'",
        "did you mean 'output'?",
    ),
    "a lead in a joint": (f"{HEAD}joints: [[a.satrt, output.tip]]\n", "'a.satrt'", "did you mean 'start'?"),
    "a terminal without lead": (f"{HEAD}joints: [[a, output.tip]]\n", "'a'", "part.terminal"),
    "a coil in a coupling": (
        f"{HEAD}couplings: [{{coils: [a, aa], coefficient: 0.1}}]\n",
        "'aa'",
        "did you mean 'a'?",
    ),
    "a partner": (f"{HEAD}ganged: {{a: outputs}}\n", "'outputs'", "did you mean 'output'?"),
    "what a piece of metal is": (
        f"{HEAD}  x: {{kind: metal, of: strngs}}\n",
        "'strngs'",
        "did you mean 'strings'?",
    ),
    "a part under a piece of metal": (
        f"{HEAD}  x: {{kind: metal, of: cover, on: [outptu]}}\n",
        "'outptu'",
        "did you mean 'output'?",
    ),
    "an output": (f"{HEAD}output: outputt\n", "'outputt'", "did you mean 'output.tip'?"),
    "a name in a sketch": (f"{HEAD}  selector: {{kind: sketch, positions: {{1: a + bb}}}}\n", "'bb'", "a"),
    "a position in labels": (f"{HEAD}labels: {{2: Neck}}\n", "'2'", "1"),
    "a part of the load": (f"{HEAD}load: {{amp: {{resistance: 1M}}}}\n", "'amp'", "amplifier"),
    "a lug": (f"{HEAD}  x: {{kind: switch, lugs: [A0, A1], contacts: {{1: [[A0, A2]]}}}}\n", "A2", "A0, A1"),
    "a note": (f"{HEAD}instrument: {{scale: 686 mm, strings: [{{note: H1, gauge: 1 mm}}]}}\n", "'H1'", "B1"),
}

PAIR = f"{HEAD}  b: {COIL}\n"
TRIO = f"{PAIR}  c: {COIL}\n"
POT = f"{HEAD}  x: {{kind: pot, resistance: 1M, "
SWITCH = "{{kind: switch, lugs: [A0, A1, A2], contacts: {}}}"
CONTRADICTIONS = {
    "a lug in two groups": f"{HEAD}  x: {SWITCH.format('{1: [[A0, A1], [A1, A2]]}')}\n",
    "a lug twice in a group": f"{HEAD}  x: {SWITCH.format('{1: [[A0, A0]]}')}\n",
    "a group of one": f"{HEAD}  x: {SWITCH.format('{1: [[A0]]}')}\n",
    "no positions": f"{HEAD}  x: {SWITCH.format('{}')}\n",
    "contacts that are no map": f"{HEAD}  x: {SWITCH.format('[A0, A1]')}\n",
    "groups that are no lists": f"{HEAD}  x: {SWITCH.format('{1: [A0, A1]}')}\n",
    "a lug named twice": f"{HEAD}  x: {{kind: switch, lugs: [A0, A0], contacts: {{1: []}}}}\n",
    "both ways to say a switch": f"{HEAD}  x: {SWITCH.format('{1: []}')[:-1]}, poles: 1, positions: 2}}\n",
    "a function beside a table": f"{HEAD}  x: {SWITCH.format('{1: []}')[:-1]}, function: on-on}}\n",
    "a function without poles": f"{HEAD}  x: {{kind: switch, function: on-on}}\n",
    "a function without positions": f"{HEAD}  x: {{kind: switch, function: bridging, poles: 2}}\n",
    "a function of other positions": (
        f"{HEAD}  x: {{kind: switch, function: on-off-on, poles: 2, positions: 2}}\n"
    ),
    "a bridging switch of even positions": (
        f"{HEAD}  x: {{kind: switch, function: bridging, poles: 2, positions: 4}}\n"
    ),
    "an on-on-on toggle of one pole": f"{HEAD}  x: {{kind: switch, function: on-on-on, poles: 1}}\n",
    "half a shorthand": f"{HEAD}  x: {{kind: switch, poles: 2}}\n",
    "no poles": f"{HEAD}  x: {{kind: switch, poles: 0, positions: 3}}\n",
    "half a pole": f"{HEAD}  x: {{kind: switch, poles: 1.5, positions: 3}}\n",
    "more lugs than fit": f"{HEAD}  x: {{kind: switch, poles: 24, positions: 24}}\n",
    "a great many positions": f"{HEAD}  x: {{kind: switch, poles: 1, positions: {'9' * 5000}}}\n",
    "a number with a long tail": f"{HEAD}  x: {{kind: switch, poles: 1, positions: 00000000{'1' * 5000}}}\n",
    "no jack": f"format: 1\nparts:\n  a: {COIL}\n",
    "two jacks, neither the output": (
        f"format: 1\nparts:\n  a: {COIL}\n  left: {{kind: jack}}\n  right: {{kind: jack}}\n"
    ),
    "a piece of metal that is nothing": f"{HEAD}  x: {{kind: metal}}\n",
    "a piece of metal on itself": f"{HEAD}  x: {{kind: metal, of: casing, on: [x]}}\n",
    "a piece of metal on a word": f"{HEAD}  x: {{kind: metal, of: casing, on: a}}\n",
    "a third terminal of metal": f"{HEAD}  x: {{kind: metal, of: casing}}\njoints: [[x.c, a.start]]\n",
    "an output that is no jack": f"{HEAD}output: a\n",
    "an output that is a lug": f"{HEAD}output: output.sleeve\n",
    "an output at a ring that is not there": f"{HEAD}output: output.ring\n",
    "an output that is a list": f"{HEAD}output: [output]\n",
    "a jack with a second tip": HEAD.replace("{kind: jack}", "{kind: jack, lugs: [tip]}"),
    "a jack's contact with an unknown lug": (
        HEAD.replace("{kind: jack}", "{kind: jack, contacts: {out: [[tip, tip_switch]]}}")
    ),
    "a jack's contact in another state": (
        HEAD.replace("{kind: jack}", "{kind: jack, contacts: {mono: [[tip, sleeve]]}}")
    ),
    "a jack's contact alone": HEAD.replace("{kind: jack}", "{kind: jack, contacts: {in: [[tip]]}}"),
    "no coil": "format: 1\nparts:\n  output: {kind: jack}\n  r: {kind: resistor, resistance: 1M}\n",
    "no parts": "format: 1\n",
    "parts that are a list": "format: 1\nparts: [a, b]\n",
    "a part that is a word": f"{HEAD}  x: coil\n",
    "a part without a kind": f"{HEAD}  x: {{resistance: 1M}}\n",
    "a field missing": f"{HEAD}  x: {{kind: coil, resistance: 5k, inductance: 2H}}\n",
    "a sketch without positions": f"{HEAD}  selector: {{kind: sketch, positions: {{}}}}\n",
    "a sketch that is no selector": f"{HEAD}  x: {{kind: sketch, positions: {{1: a}}}}\n",
    "a part twice in a sketch": f"{HEAD}  selector: {{kind: sketch, positions: {{1: a + a}}}}\n",
    "a part joined to itself by name": f"{HEAD}joints: [[a.start, a.start]]\n",
    "a joint of one": f"{HEAD}joints: [[a.start]]\n",
    "a joint of none": f"{HEAD}joints: [[]]\n",
    "a joint that is a word": f"{HEAD}joints: [a.start]\n",
    "joints that are a map": f"{HEAD}joints: {{a: b}}\n",
    "ganged with itself": f"{HEAD}ganged: {{a: a}}\n",
    "ganged in a ring": f"{TRIO}ganged: {{a: b, b: c, c: a}}\n",
    "ganged in a ring, written in the parts": (
        f"{HEAD}  b: {COIL[:-1]}, ganged: {{part: c}}}}\n  c: {COIL[:-1]}, ganged: {{part: b}}}}\n"
    ),
    "a knob turned with a coil": f"{POT}ganged: {{part: a, turns: together}}}}\n",
    "a shaft's turns in other words": (
        f"{HEAD}  x: {{kind: pot, resistance: 1M}}\n"
        "  y: {kind: pot, resistance: 1M, ganged: {part: x, turns: twice}}\n"
    ),
    "ganged without a partner": f"{HEAD}  b: {COIL[:-1]}, ganged: {{}}}}\n",
    "a coil coupled to itself": f"{HEAD}couplings: [{{coils: [a, a], coefficient: 0.1}}]\n",
    "a coupling of three": f"{TRIO}couplings: [{{coils: [a, b, c], coefficient: 0.1}}]\n",
    "a coupling of nothing": f"{HEAD}couplings: [{{coefficient: 0.1}}]\n",
    "a coupling without a coefficient": f"{PAIR}couplings: [{{coils: [a, b]}}]\n",
    "a pair coupled twice": (
        f"{PAIR}couplings:\n  - {{coils: [a, b], coefficient: 0.1}}\n"
        "  - {coils: [b, a], coefficient: 0.2}\n"
    ),
    "a coupling of one": f"{PAIR}couplings: [{{coils: [a, b], coefficient: 1}}]\n",
    "couplings no magnets can have": (
        f"{TRIO}couplings:\n  - {{coils: [a, b], coefficient: 0.9}}\n"
        "  - {coils: [b, c], coefficient: 0.9}\n  - {coils: [a, c], coefficient: -0.9}\n"
    ),
    "a coupling stronger than the lossless shares allow": (
        f"{HEAD}  b: {COIL[:-1]}, eddy: [{{share: 36 %, corner: 1k}}]}}\n"
        "couplings: [{coils: [a, b], coefficient: 0.8}]\n"
    ),
    "a coupling of a coil that is all eddy share": (
        f"{HEAD}  b: {COIL[:-1]}, eddy: [{{share: 100 %, corner: 1k}}]}}\n"
        "couplings: [{coils: [a, b], coefficient: 0.01}]\n"
    ),
    "shares of loss above the whole": (
        f"{HEAD}  b: {COIL[:-1]}, eddy: [{{share: 60 %, corner: 1k}}, {{share: 50 %, corner: 2k}}]}}\n"
    ),
    "a cover over coils that are all eddy share": (
        f"{HEAD}  b: {COIL[:-1]}, cover: metal, eddy: [{{share: 95 %, corner: 1k}}]}}\n"
    ),
    "a cover of wood": f"{HEAD}  b: {COIL[:-1]}, cover: wood}}\n",
    "a screening that leaves nothing": f"{HEAD}  b: {COIL[:-1]}, screening: {{share: 100 %, corner: 1k}}}}\n",
    "a screening without a corner": f"{HEAD}  b: {COIL[:-1]}, screening: {{share: 20 %}}}}\n",
    "a coil beyond the nut": HEAD.replace("80p}", "80p, at: 700 mm}") + "instrument: {scale: 686 mm}\n",
    "a balance for other strings": (
        HEAD.replace("80p}", "80p, string_balance: [0, 0]}")
        + "instrument: {scale: 686 mm, strings: [{note: E2, gauge: 1 mm}]}\n"
    ),
    "a taper that falls": f"{POT}taper: [[0, 0], [0.5, 0.6], [0.6, 0.5], [1, 1]]}}\n",
    "a taper that stands still": f"{POT}taper: [[0, 0], [0, 1], [1, 1]]}}\n",
    "a taper of one point": f"{POT}taper: [[0, 0]]}}\n",
    "a taper of words": f"{POT}taper: [[0, 0], [nan, 1], [1, 1]]}}\n",
    "a midpoint of a straight taper": f"{POT}taper: linear, midpoint: 20 %}}\n",
    "a midpoint without a taper": f"{POT}midpoint: 20 %}}\n",
    "a tap beyond the winding": HEAD.replace("80p}", "80p, tap_resistance: 6k}"),
    "a coupling with a capacitor": (
        f"{HEAD}  x: {{kind: capacitor, capacitance: 22n}}\n"
        "couplings: [{coils: [a, x], coefficient: 0.1}]\n"
    ),
    "a coupling with an ideal transformer": (
        f"{HEAD}  x: {{kind: transformer, ratio: 0.2}}\ncouplings: [{{coils: [a, x], coefficient: 0.1}}]\n"
    ),
    "inductors coupled too well": (
        f"{HEAD}  x: {{kind: inductor, inductance: 1}}\n  y: {{kind: inductor, inductance: 2}}\n"
        "couplings: [{coils: [x, y], coefficient: -1}]\n"
    ),
    "a capacitor with both losses": (
        f"{HEAD}  x: {{kind: capacitor, capacitance: 22n, tan_delta: 1 %, series_resistance: 5 Ω}}\n"
    ),
    "a loss beyond reason": f"{HEAD}  x: {{kind: capacitor, capacitance: 22n, tan_delta: 30 %}}\n",
    "a type that is a list": f"{HEAD}  x: {{kind: capacitor, capacitance: 22n, type: [film]}}\n",
    "a type of many words": f"{HEAD}  x: {{kind: capacitor, capacitance: 22n, type: {'film ' * 20}}}\n",
    "a tolerance of everything": f"{POT}tolerance: 100 %}}\n",
    "a tolerance in words": f"{POT}tolerance: tight}}\n",
    "a tolerance of a jack": HEAD.replace("kind: jack", "kind: jack, tolerance: 5 %"),
    "a tap at the end of a track": f"{POT}tap: 100 %}}\n",
    "a track that opens sometimes": f"{POT}no_load: sometimes}}\n",
    "a detent beyond the track": f"{POT}detent: 60 %}}\n",
    "a midpoint of a blend": f"{POT}taper: blend, midpoint: 20 %}}\n",
    "a part's name with a point": f"{HEAD}  a.b: {COIL}\n",
    "a part's name without letters": f'{HEAD}  "": {COIL}\n',
    "a very long name": f"{HEAD}  {'x' * 300}: {COIL}\n",
    "no format": f"parts:\n  a: {COIL}\n  output: {{kind: jack}}\n",
    "a later format": HEAD.replace("format: 1", "format: 2"),
    "a format in words": HEAD.replace("format: 1", "format: [1]"),
    "a selector that is no switch": f"{HEAD}selector: a\n",
    "a selector that is a list": f"{HEAD}selector: [a]\n",
    "a name that is a map": f"{HEAD}name: {{a: b}}\n",
    "labels that are a list": f"{HEAD}labels: [Neck]\n",
    "a load in words": f"{HEAD}load: heavy\n",
    "an instrument in words": f"{HEAD}instrument: guitar\n",
    "strings in words": f"{HEAD}instrument: {{scale: 686 mm, strings: six}}\n",
}

YAML = {
    "empty": "",
    "blank": " \n\n\t\n",
    "comment only": "# nothing\n",
    "null": "~\n",
    "a word": "wiring\n",
    "a list": "- format\n- 1\n",
    "two documents": f"{HEAD}---\n{HEAD}",
    "an unclosed bracket": f"{HEAD}joints: [[a.start\n",
    "an unclosed quote": f'{HEAD}name: "a\n',
    "a tab for indentation": "format: 1\nparts:\n\ta: b\n",
    "a tag": f"{HEAD}name: !!python/object/apply:os.system ['true']\n",
    "a tag of one's own": f"{HEAD}name: !coil x\n",
    "an unknown alias": f"{HEAD}name: *nobody\n",
    "a map as a key": f"{HEAD}? {{a: b}}\n: c\n",
    "a list as a key": f"{HEAD}? [a, b]\n: c\n",
    "a directive": f"%YAML 3.0\n---\n{HEAD}",
    "duplicate keys": HEAD + f"  a: {COIL}\n",
    "a key merged in": f"{HEAD}<<: {{name: x}}\n",
    "brackets": "[" * 100_000,
    "brackets, closed": "[" * 50_000 + "]" * 50_000,
    "maps in maps": "{a: " * 40_000 + "1" + "}" * 40_000,
    "brackets, line by line": "[\n" * 60_000,
    "brackets after text": "x: '[[[['\n" + "y: " + "[" * 300 + "]" * 300,
    "dashes": "- " * 60_000 + "a",
    "questions": "? " * 60_000 + "a",
    "indentation": "".join(f"{' ' * n}a:\n" for n in range(600)),
    "indentation by two": "".join(f"{'  ' * n}- a:\n" for n in range(300)),
    "a bomb of aliases": "a0: &a0 [x, x, x, x, x, x, x, x, x]\n"
    + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 40)),
    "a bomb in maps": "a0: &a0 {x: 1, y: 2}\n"
    + "".join(f"a{n}: &a{n} {{x: *a{n - 1}, y: *a{n - 1}}}\n" for n in range(1, 60)),
    "an alias of itself": "a: &a [*a]\n",
    "a map of itself": "a: &a {b: *a}\n",
    "many keys": "".join(f"k{n}: {n}\n" for n in range(5000)),
    "one key many times": "k: 1\n" * 5000,
    "many parts": "format: 1\nparts:\n" + "".join(f"  p{n}: {{kind: jack}}\n" for n in range(1000)),
    "a long list": f"{HEAD}joints: [[{'a.start, ' * 5000}a.start]]\n",
    "a long word": f"{HEAD}name: {'x' * 200_000}\nfoo: 1\n",
    "a long unknown word": f"{HEAD}{'x' * 900}: 1\n",
    "many quotes": "'" * 100_001,
    "many colons": "a: " * 50_000,
    "a long comment, then nothing": "#" + "x" * 200_000,
}
