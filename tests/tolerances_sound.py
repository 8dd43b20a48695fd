"""Tolerances of the checks on loudness, true peak, dither and sound files, each with its reason."""

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

HARMONIC_OVER_NOISE_DB = 3.0
"""Of a bin averaged over 64 spectra, re the noise: chance stays within 1.5 dB; without dither the
harmonics of the sine tested stand 30 dB above."""

RESAMPLED = 1e-6
"""-120 dB: soxr's very high quality keeps 28 bits in the pass band; what is left is the window's ends."""

LOSSY_SHIFT_FRAMES = 0
"""A clip is aligned to its take; a frame's shift would already comb when two clips are mixed."""
