"""Tables and Touchstone files of impedances: every form read, every slip told."""

from __future__ import annotations

import numpy as np
import pytest
from rig import coil_ohm

from dsp.errors import InputError
from dsp.measuring.coil_fit import fit_coil
from dsp.measuring.impedance_text import read_columns, read_touchstone, turned

HZ = np.geomspace(50, 20_000, 60)
OHM = coil_ohm(6200.0, 2.35, 118e-12, (0.5, 9000.0))(HZ)
DEGREES = np.degrees(np.angle(OHM))

FORMS = {
    "freq,|Z|,phase": lambda f, z: f"{f:.9g},{abs(z):.9g},{np.degrees(np.angle(z)):.9g}",
    "Freq (kHz);Mag (kOhm);Phase (rad)": lambda f, z: (
        f"{f / 1e3:.9g};{abs(z) / 1e3:.9g};{np.angle(z):.9g}".replace(".", ",")
    ),
    "f\tRe Z\tIm Z": lambda f, z: f"{f:.9g}\t{z.real:.9g}\t{z.imag:.9g}",
    "hz,Ls (mH),Rs": lambda f, z: f"{f:.9g},{z.imag / (2e-3 * np.pi * f):.9g},{z.real:.9g}",
}


@pytest.mark.parametrize("head", FORMS)
def test_every_form_is_the_same_curve(head: str) -> None:
    rows = [FORMS[head](f, z) for f, z in zip(HZ, OHM, strict=True)]
    found = read_columns("\n".join(["# read by hand", head, "* a remark", *rows]), "bridge.csv")
    assert np.allclose(found.curve.frequencies_hz, HZ, rtol=1e-7)
    assert np.allclose(found.curve.ohm, OHM, rtol=1e-7)


def test_a_table_of_the_other_sign_is_told_and_turned() -> None:
    rows = [f"{f:.6g},{abs(z):.9g},{-d:.9g}" for f, z, d in zip(HZ, OHM, DEGREES, strict=True)]
    curve = read_columns("\n".join(["freq,z,phase", *rows]), "bridge.csv").curve
    with pytest.raises(InputError, match="can be turned"):
        fit_coil(curve, "bridge.csv")
    fit = fit_coil(turned(curve), "bridge.csv", dc_ohm=6200.0)
    assert fit.coil.inductance_h == pytest.approx(2.35, rel=0.005)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no line"),
        ("a,b\n1,2", r"bridge.csv:1: got a,b; allowed: a frequency and \|Z\| with phase"),
        ("freq,z,phase\n100,5,10\n200,x,10", "bridge.csv:3: got x; allowed: a number"),
        ("freq,z,phase\n100,5,10\n200", "bridge.csv:3: got 1 fields"),
        ("freq,z,phase\n100,5,10\n200,6,20", "got 2 rows; allowed: at least 3"),
        ("freq,z,phase\n100,5,10\n90,5,10\n80,5,10", "row 2: got 90 Hz"),
        ("freq,re,im\n100,5,10\n200,-50,10\n300,5,10", "a phase of 169 degrees at 200 Hz"),
        ("freq,z,phase\n100,5,10\n200,6,98\n300,5,10", r"a resistance of -0.8\d+ ohm at 200 Hz"),
        ("freq,re,im\n100,5,10\n200,0,0\n300,5,10", "0 ohm at 200 Hz"),
        ("freq,z,phase\n100,5,10\n200,nan,20\n300,5,10", "bridge.csv:3: got nan"),
    ],
)
def test_slips_of_a_table_are_told_where_they_are(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_columns(text, "bridge.csv")


# === Touchstone


@pytest.mark.reference
def test_the_specifications_own_example() -> None:
    """A one-port Z file of "Touchstone File Format Specification", Rev 1.1, 2002 (from memory).

    Its Z values are normalised to the 75 ohm of the option line.
    """
    text = (
        "! 1-port Z-parameter file\n# MHz Z MA R 75\n100 0.99 -4\n200 0.80 -22\n300 0.707 -45\n400 0.40 -62\n"
    )
    curve = read_touchstone(text, "load.s1p").curve
    assert curve.frequencies_hz == pytest.approx([100e6, 200e6, 300e6, 400e6])
    assert curve.ohm[2] == pytest.approx(75 * 0.707 * np.exp(-0.25j * np.pi))


def touchstone(kind: str, form: str, reference: float) -> str:
    value = {"Z": OHM / reference, "Y": reference / OHM, "S": (OHM - reference) / (OHM + reference)}[kind]
    pairs = {
        "RI": (value.real, value.imag),
        "MA": (np.abs(value), np.degrees(np.angle(value))),
        "DB": (20 * np.log10(np.abs(value)), np.degrees(np.angle(value))),
    }[form]
    rows = [f"{f / 1e3:.12g} {a:.15g} {b:.15g} ! row" for f, a, b in zip(HZ, *pairs, strict=True)]
    return "\n".join([f"# kHz {kind} {form} R {reference:g}", *rows])


@pytest.mark.parametrize("kind", "ZYS")
@pytest.mark.parametrize("form", ["RI", "MA", "DB"])
def test_every_kind_and_form_is_the_same_curve(kind: str, form: str) -> None:
    found = read_touchstone(touchstone(kind, form, 10_000.0), "coil.s1p")
    assert np.allclose(found.curve.ohm, OHM, rtol=1e-9)
    assert not found.notes


def test_a_reflection_at_50_ohm_is_warned_of() -> None:
    (note,) = read_touchstone(touchstone("S", "RI", 50.0), "coil.s1p").notes
    assert "times the reference of 50" in note


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[Version] 2.0", "coil.s1p:1: got .Version. 2.0; allowed: version 1"),
        ("# kHz H MA R 50", "coil.s1p:1: got H"),
        ("# kHz Z MA R 0", "a reference above 0"),
        ("# kHz Z MA R 50\n1 2 3 4 5", "coil.s1p:2: got 5 numbers"),
        ("# kHz S RI R 50\n1 1 0\n2 1 0\n3 1 0", "a reflection of exactly 1"),
    ],
)
def test_slips_of_touchstone_are_told(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_touchstone(text, "coil.s1p")
