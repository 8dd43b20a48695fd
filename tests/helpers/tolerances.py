"""Every tolerance of the tests, each with its reason.

A tolerance is smaller than the smallest mistake it should catch. Each reference check has a twin, off by
TWIN_FACTOR more than its tolerance or so, that must be refused.
"""

from __future__ import annotations

# === The comparison with ngspice
# A tolerance is smaller than the smallest mistake it should catch: one picofarad forgotten beside
# 500 pF of cable moves the level above the peak by 0.02 dB, one ohm of contact resistance in 5 kΩ
# by 0.002 dB.

LEVEL_DB = 0.001
"""The bar of the design: response against ngspice on the same network, 20 Hz to 20 kHz."""

PHASE_DEG = 0.01
"""The bar of the design, as above."""

FLOOR = 1e-8
"""-160 dB re the EMF. Below it a response is what rounding leaves of cancelling terms, so that a ratio says
nothing: there the difference itself is compared."""

FLOOR_DIFFERENCE = 1e-11
"""Below the floor: -220 dB re the EMF, a thousand times the 1e-14 ngspice leaves of a coil without return."""

FLOOR_OHM = 1e-3
"""The same floor for the output impedance: a volume at 0 leaves 0 Ω."""

FLOOR_DIFFERENCE_OHM = 1e-6
"""Below that floor: a microohm, beside kilohms everywhere else in these networks."""

TWIN_FACTOR = 1.2
"""Each comparison has a twin, off by this much more than the tolerance, that must be refused."""

REFERENCE_LEVEL_DB = 1e-6
"""Two netlists of one network in the SAME program (drawn by hand, built from the file): they differ by the
order of rounding alone. A thousandth of the bar, so that the reference is never what is tested."""

REFERENCE_PHASE_DEG = 1e-5
"""As above, a thousandth of the bar."""

CLOSED_FORM = 1e-11
"""Relative error of ngspice against a formula: double precision, some hundred operations."""

PUBLISHED_DB = 0.00006
"""Loaded references: printed to four decimals, so half a unit of the last one and a little for rounding."""

PUBLISHED_HZ = 0.15
"""Loaded references: peak frequencies printed to one decimal, of which the second (3012.4 Hz) was read off a
grid: the closed form's maximum lies at 3012.52 Hz. The others agree within 0.05 Hz."""


# === Wiring, circuit, filters and sound

# --- Filters against the circuit (the contract of the design, at 48 kHz)

CONTRACT_LEVEL_DB = 0.01
CONTRACT_PHASE_DEG = 0.1
CONTRACT_TOP_LEVEL_DB = 0.15
"""20 Hz to 18 kHz for the first two, to 20 kHz for the third."""

AT_48 = (0.006, 0.05, 0.02)
"""dB, degrees, dB to 20 kHz: the largest of 300 random settings were 0.0028, 0.029, 0.0125. A design that
meets the contract but has grown twice as bad is noticed."""
AT_44 = (0.02, 0.15, 0.11)
"""The same at 44.1 kHz, where 20 kHz is nearer to half the rate: measured 0.0103, 0.076, 0.055."""
AT_96 = (0.0008, 0.01, 0.0017)
"""The same at 96 kHz: measured 0.00042, 0.0042, 0.00085."""

OWN_REPORT = 0.35
"""By how much of the contract a bank's own figures may miss an independent measurement: the two look at
different frequencies. Measured 0.05 of the bar at 48 kHz, 0.25 at 44.1 kHz."""


# --- Running a bank

SAME_SAMPLES = 1e-11
"""Relative to the largest sample, -220 dB: another order of additions in double precision, where sections up
to 4000 times as large as their sum cancel. Measured 3.4e-12 over forty banks, 1e-15 in a tame one."""

# --- Circuits

SOLVERS = 1e-9
"""Relative to the largest entry: two ways of solving one network of some twenty nodes, whose matrices have
condition numbers up to 1e6."""

SAME_NETWORK = 1e-6
"""Relative, on responses themselves: as above, where a response is a thousandth of its terms."""

MICROOHM = 1e-6
"""Ohm: an impedance below this is a short."""

CONTINUOUS = 1e-5
"""A knob 1e-9 of its travel away from its end: of the largest pots, 10 MΩ, that is 10 mΩ, against 1 kΩ of
the smallest parts drawn."""

PASSIVE = 1e-9
"""Relative slack for sums of squares and real parts that a passive network may not exceed."""

# --- Closed forms

PRINTED_DB = 5e-5
"""The worked values are printed to four decimals of a decibel."""
FORMULA = 1e-9
"""Relative: one formula against the general solver."""
PRINTED = 5e-5
"""Relative: worked impedances are printed to 0.01 Ω or seven digits, resonances to 0.1 Hz or 0.1 kΩ of some
hundreds."""
PRINTED_DEG = 6e-4
"""Degrees: worked phases are printed to three decimals."""
TWO_COIL_UNIT = 0.01
"""Check 3 of the published values: 1 % of 319 kΩ."""

# --- Moving knobs

ARTEFACT_DB = -90.0
"""The bar of the design for flips and sweeps, re signal."""
STEPS_DB = -65.0
"""Rendering of a sweep in steps of 5 ms against 1 ms: measured -69.5 dB or better from 0.25 s per full turn
(-89.6 at 1 s). Steps of 10 ms leave -42 dB in the fastest, raised-cosine fades of 5 ms -49 dB."""
STEADY_DB = -150.0
"""The measure's own floor: a steady sine."""


# === Findings, meter, noise, resonance

CANCELS_DB = -200.0
"""Matched coils of opposite winding: what is left is rounding, some 1e-15 of the coils' hum."""

EXACT = 1e-9
"""Relative: the same closed form by another order of operations, matrices with condition up to 1e6."""

RESONANCE_HZ = 0.06
"""The worked peaks are printed to 0.1 Hz (0.05) and the search ends within a millionth of the frequency."""

RESONANCE_GRID_HZ = 0.2
"""One worked peak was read off a grid: the closed form's maximum lies at 3012.52 Hz, printed 3012.4."""

RESONANCE_DB = 6e-5
"""The worked heights are printed to four decimals."""

BANDWIDTH = 1e-5
"""Relative: the peak's own frequency is found to a millionth, and its flat top halves the digits."""

OHMMETER = 1e-7
"""Relative: the decks have 1e15 Ω across each of up to forty nodes, 4e-8 of the largest reading of 1 MΩ."""

NOISE_PUBLISHED = 0.001
"""Check 10 of the published values: 0.1 %."""

NOISE_SPICE = 1e-6
"""Relative: ngspice has the Boltzmann constant of before 2019, 1.7e-7 away in the density."""

A_TABLE_DB = 0.0505
"""The standard's table is rounded to 0.1 dB, the curve's 2.00 dB at 1 kHz to a hundredth; at exact
third-octave frequencies nothing else differs."""

NOISE_TOTAL = 0.002
"""Relative: two integrations on unlike grids, both finer than a hundredth of a decade."""


# === Parts and tapers

# Check 5 of the measured pots: what three straight lines fitted to the same data reach (0.0051 and
# 0.014 of full scale), with room for any curve that is as good.
TAPER_RMS = 0.01
TAPER_MAX = 0.02

# The stored curve has three decimals.
TAPER_ROUNDING = 0.0005 + 1e-12

# The figures compared are printed to 0.1 % of full scale.
PERCENT_PRINTED = 0.05 + 1e-9

# The worked responses are printed to 4 decimals of a dB.

# Their peaks are printed to 0.1 Hz but were read off a grid: near a flat top 0.2 Hz changes the level by
# less than the printed digits show. The search here steps by 0.02 Hz.
PEAK_HZ_PRINTED = 0.2


# === Rendered clips

CLIP_LEVEL_DB = 0.012
"""The contract's 0.01 dB, and 0.002 dB for the 32-bit samples and the finite clip of the test."""
CLIP_PHASE_DEG = 0.11
"""The contract's 0.1 degrees and as much again as the level's margin, 0.0002 rad."""
CLIP_TOP_DB = 0.155
"""The contract's 0.15 dB up to 20 kHz, with the same margin."""
SPECTRUM_DB = 0.05
"""Real recording: transfer of a clip against the computed response, coherent average; the filter's
0.01 dB plus the leakage of the windows between neighbouring bins."""
LOUDNESS_LU = 0.1
"""As EBU Tech 3341 asks of a meter."""
HEARD_LU = 0.2
"""Loudness from a take's spectra against a rendered clip's: the bar for levels through clean."""
HUM_REL = 1e-3
"""Of the loudest coil's hum: the filters' contract is 0.01 dB."""
LIMITED_LU = 0.2
"""The bar for loudness after matching with a limiter."""
FLOAT32 = 1e-6
"""Relative; 32-bit float samples carry 24 bits, 6e-8, of which sums in tests use up some."""
WAVEFORM_DB = -100.0
"""Difference of a whole clip against the circuit, below 18 kHz. Measured: -127 to -130, where 32-bit
samples end; a level error of 0.001 dB alone makes -79."""


# === Loudness, true peak, dither, files

EBU_LU = 0.1
"""EBU Tech 3341 asks a meter for ±0.1 LU."""

EXACT_LU = 0.01
"""The K filter's table is exact and a tone of 10 s leaves only its onset and rounding."""

K_TABLE = 1e-8
"""The standard prints its coefficients with 14 decimals; the design formula behind them gives 8."""

K_GAIN_DB = 0.0011
"""The gains compared with are rounded to three decimals; the formula misses the table by 1e-5 dB."""

OTHER_RATES_DB = 0.01
"""How far the K filter of another rate may stray from the one at 48 kHz up to 10 kHz."""

SAME_METER_LU = 1e-6
"""Two programs doing the same arithmetic in another order."""

PRINTED_LU = 0.06
"""The other meter prints tenths (0.05) and works in single precision."""

TRUE_PEAK_UP_DB, TRUE_PEAK_DOWN_DB = 0.2, 0.4
"""EBU Tech 3341: +0.2/-0.4 dB (from memory)."""

PRINTED_PEAK_DB = 0.08
"""The other meter prints tenths (0.05); below 10 kHz four-fold interpolators agree to 0.01 dB."""

DITHER_VARIANCE = 0.01
"""Relative, on 1.4 million samples: four standard errors of a variance near that of a normal law."""

DITHER_PAIR_VARIANCE = 0.03
"""Relative, of what two dithers of one clip of 96,000 samples differ by: six standard errors. A dither
without its triangle, or one that both files share, is off by a third or more."""

HARMONIC_OVER_NOISE_DB = 3.0
"""Of a bin averaged over 64 spectra, re the noise: chance stays within 1.5 dB; without dither the
harmonics of the sine tested stand 30 dB above."""

RESAMPLED = 1e-6
"""-120 dB: soxr's very high quality keeps 28 bits in the pass band; what is left is the window's ends."""

LOSSY_SHIFT_FRAMES = 0
"""A clip is aligned to its take; a frame's shift would already comb when two clips are mixed."""


# === Strings

STRING_PITCH = 1e-5
"""Relative: the published pitch has six digits, its source's T and mu three or four that give them."""
MEASURED_STIFFNESS = 0.08
"""Relative: formula with handbook E against the measured B; the source's own difference is 7.2 %."""
CHART_WEIGHT = 0.015
"""Relative: charts of unit weights come out at 7806-7810 kg/m3, steel is 7850; their digits give the rest."""
WOUND_WEIGHT = 0.03
"""The bar, relative, for every gauge of one maker's list: one law of the core and one fill for all. Measured
2.8 % at most."""
NICKEL_WEIGHT = 0.055
"""Relative, of another maker's pure-nickel strings; that list scatters by 5 to 10 %. Measured 5.2 %."""
PARTIAL_CENT = 0.02
"""Cent: 2 % of B moves partial 40 by 0.5 cent; the measurement in half a second is good to 0.01."""
DECAY_WORKED_S = 0.0051
"""Half a unit of the last digit of the worked times."""
DECAY_RENDERED = 0.01
"""Relative: neighbouring partials leak into the measurement of one; a 5 % change can just be heard."""
COMB = 0.001
"""Of the loudest partial: how well a line's level is measured in rendered audio; 1 mm of coil place moves
partials by ten times that."""
COMB_NULL_DB = -85.0
"""A node over the coil, re the loudest partial: what the filter of the measurement lets through of others."""


# === Scores and what is heard of them

PLAYED_S = 1e-9
"""Seconds: beats times their length, a few roundings."""
HUMAN_MEAN_SIGMA = 3.0
"""Standard errors a mean of 199 may stray; the seed is fixed, a bias of half a spread is 7."""
HUMAN_SPREAD = 0.15
"""Relative, three standard errors (1/sqrt(2 n)) of a standard deviation of 199: a variance mistaken for it,
or a factor of 2, is far off."""
HUMAN_CORRELATION = 0.22
"""Three standard errors of a correlation of 199."""
GAINS = 3e-6
"""Relative to the peak: 32-bit samples of two rows, each summed from some hundred modes, 120 dB below it."""
DAMPED_FIRST_DB = -40.0
"""The bar: just before a string is plucked again, re before pick or finger touched it. Measured -61."""
STOPPED_DB = -80.0
"""150 ms after the left hand's stop, re just before it: 20 dB below what counts as silence (the 60 dB of a
reverberation time). Measured -99."""
RESIDUE_DB = 0.1
"""Of what hands leave, re the string left alone: 32-bit roundings are far below both. Measured 0.001."""
HARMONIC_LEAVES_DB = -40.0
"""The bar: partials without a node under the finger, half a second after, re the harmonic."""
BEND_CENT = 1.0
"""The bar; 5 cents are just heard. Measured 0.02."""
COMB_MOVED = 0.001
"""Relative, of partials' ratios between two coils in 100 ms; 1 mm of coil place moves them by some percent.
Measured 6e-5."""
VIBRATO_CENT = 0.5
"""Of 30 and of 100 cents: what a filter of 60 Hz smooths and lets through of other partials, 0.16."""
VIBRATO_RATE = 0.01
"""Relative: a hundredth of one of six turns."""
CURVED_SLOPE = 0.01
"""Relative, of a doubling per doubling: to second order it is exact. Measured 0.001."""
STRETCHED = 0.01
"""Relative: the slope's square against the curve's length, and turns that are counted out."""
DIFFERENCE_CENT, DIFFERENCE_DB = 1.0, 0.5
"""The bars for the first twenty partials, against a string by finite differences."""
ENERGY_KEPT = 1e-6
"""Relative: a scheme that keeps its energy, up to roundings."""
CURVED_PRODUCT = 0.05
"""Of what the magnet adds: its products of partials above 4.8 kHz are left out."""
STARTS_DB = -60.0
"""First two samples re the peak: a string at rest. A step would be at 0. Measured -88."""
CLICK_DB = -100.0
"""Above 8 kHz, re the wave's peak before its end. Measured -113 or better; cut off: -28 to -44."""
OUT_OF_BAND_DB = -110.0
"""Of the spectrum's peak. Measured -156; aliases of a slide up stood at -80."""
RUNG_OUT_DB = -100.0
"""Of the peak, at a note's own end: built for -110 of each mode. Measured -116; breaking off with the short
string's life it was -67."""
STEMS_24_BIT = 2.0**-23
"""Volt: a step of 24-bit FLAC; rounding leaves half of one."""
POSITIONS_DIFFER_DB = -20.0
"""Power of the difference of two clips of equal level re one of them: a tenth of the amplitude."""


# === Recordings taken apart

SAME_PLACES_DB = 0.3
"""The bar per third-octave band within 40 dB of the peak: a recording of one wiring through another with the
same coils. Measured 0.003."""
MOVED_PLACES_DB = 1.5
"""The bar as above for a line of single notes whose coil places move. Measured 1.38 at most, below the lowest
string; above it 1.11, of partials that the source's comb has nearly taken out."""
NOTE_CENT = 0.5
"""Pitch of a steady note from its partials; measured 0.07. At the 20th partial of a coil a quarter up the
string half a cent turns the comb by 0.3 degrees."""
NOTE_STIFFNESS = 0.01
"""Relative, of B; measured 3e-5. Ten per cent of B move the 20th partial's number by 0.02."""
NOTE_ONSET_S = 0.004
"""Measured 0 to 2 ms; a filter changed 9 ms late raised the next note's attack by 5 dB in one band."""
STRINGS_DB = 1.0
"""Per third-octave band: a channel per string against coils on the same line. Measured 0.3."""
COMB_EXACT = 1e-9
"""Relative to the peak: two shifted copies against the same comb as a filter."""


# === Facts of a setting

SAME_NETWORK = 1e-9
"""Of the largest response: one network written in two orders differs by rounding alone."""
CHORD_LEVEL_DB = 0.15
"""Energy by partials against a rendered note: partials of the two planes beat, and what a string does before
its first wave has reached a coil is left out."""
ERB_PRINTED = 5e-5
"""The worked numbers have four decimals."""


# === Lug charts

LIGHT_LOAD = 0.01
"""Relative, at 100 Hz: coils of 4 kΩ into 1 MΩ lose 0.4 to 0.8 %."""
CANCELLED = 1e-9
"""Volt per volt: two equal coils against one another leave rounding, near 1e-13."""


# === The page

SHOWN_SECONDS = 0.0006
"""Lengths are listed to a millisecond: half of one, and rounding."""
MATCH_LU = 0.1
"""Loudness from pooled spectra against the meter on the rendered clip: 0.05 at the most over 30 settings
and six takes; half a decibel is heard."""
DRAWN_DB = 0.002
"""Curves are sent with three decimals, at frequencies with four."""
SEEN_HZ = 5.0
"""Half a step of a thousand points on a logarithmic scale at 1.3 kHz; 2 % off is 26 Hz."""
PLAYER_SAME = 1e-6
"""Of full scale, between the page's player and dsp's rendering: 24 dB below the last bit of 16."""
FADE_ARTEFACT_DB = -90.0
"""Above 1.5 kHz re a sine of 110 Hz: below what a quiet room and a loud headphone leave to be heard."""


LISTING_LU = 0.1
"""The bar: loudness of a listing's clips re the target. Measured 0.0 in the tenths that ffmpeg prints."""
CEILING_DBTP = -1.0
"""The bar: true peak of any file that is no plain volts, as decoded."""


# === What leaves the pages

PAGE_LU = 2.0
"""Loudness of the loudest position where the slider starts, about -20 LUFS, and of other stands."""
PAGE_DISTANCE_DB = 0.3
"""One position's distance to another on the page, against the circuit: off by less than 0.1 where nothing
is guarded, and by what the guard takes from a few peaks."""

# === A customer's sound with live knobs

LIVE_STEPS_OF_16_BITS = 3.0
"""The page's own arithmetic against the finished clip: rounding with triangular dither is off by up to
1.5 steps, the gain as recorded, to 1e-4 dB, by up to 0.4. A volume at 9 instead of 10 is off by hundreds."""


OWN_WIRING_DB = -60.0
"""A recording divided by its own wiring and heard through it, what differs re itself: the filters
by which it is divided are finite in length, and the file is of 24 bits."""
RESONANCE_IN_BULK = 0.005
"""Relative: a parabola through points a third of an ear's band apart; of 120 the worst was 0.0016."""
OTHER_PROCESSOR_BENT_SHARE = 5e-5
"""The same with the magnets' curvature: displacements are summed in single precision, and the slope of what
the magnets add magnifies their last bits. 2.8e-5 (-91 dB) is the worst of one take."""
OTHER_PROCESSOR_V = 4e-7
OTHER_PROCESSOR_SHARE = 1.3e-6
"""A clip's samples on another kind of processor, absolute and relative to its peak; of 36 clips the worst
were 3e-7 V and 8.2e-7: the fit of a filter magnifies the last bit of its inputs."""

# === What stands behind the guitar

PRINTED_STACK_DB = 0.0051
"""The worked levels are printed to a hundredth of a decibel."""
PRINTED_SPEAKER_DB = 0.0051
"""As above."""
HALF_BAND_STOP_DB = -110.0
"""The bar of the half-bands: what a doubling leaves of images. Measured -113 or better."""
HALF_BAND_RIPPLE_DB = 1e-4
"""Measured 4e-5 in the pass band."""
FOLD_DB = -90.0
"""The bar: what folds back below 20 kHz, re the fundamental."""
BLOCK_CUT = 1e-9
"""The bar, relative to the peak: a chain run whole and in blocks. Measured 1e-15."""
SILENT_DBFS = -140.0
"""The bar: out of silence."""
SMALL_SIGNAL_DB = 0.012
"""A chain's impulse against its response: two banks, each within the contract's 0.01 dB, and a curve that a
microvolt does not bend. Measured 3e-5."""

PLAIN_HIGH_DB = 0.71
"""1 MΩ and 150 pF against 34 kΩ before 130 pF, to 5 kHz, every position of both demos: measured 0.70 where
coils stand in parallel and their peak lies near 5 kHz, 0.2 to 0.4 elsewhere."""
PLAIN_LOW_DB = 0.16
"""136 kΩ and 32 pF against two resistors of 68 kΩ and 130 pF, halved. Measured 0.148."""
RESONANCE_PRINTED_HZ = 1.0
"""Printed to a hertz."""
RESONANCE_PRINTED_DB = 0.06
"""Printed to a tenth of a decibel."""
