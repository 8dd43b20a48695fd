"""Tolerances of the tests of tapers and the parts library, each with its reason."""

# Check 5 of the measured pots: what three straight lines fitted to the same data reach (0.0051 and
# 0.014 of full scale), with room for any curve that is as good.
TAPER_RMS = 0.01
TAPER_MAX = 0.02

# The stored curve has three decimals.
TAPER_ROUNDING = 0.0005 + 1e-12

# The figures compared are printed to 0.1 % of full scale.
PERCENT_PRINTED = 0.05 + 1e-9

# The worked responses are printed to 4 decimals of a dB.
PRINTED_DB = 5e-5

# Their peaks are printed to 0.1 Hz but were read off a grid: near a flat top 0.2 Hz changes the level by
# less than the printed digits show. The search here steps by 0.02 Hz.
PEAK_HZ_PRINTED = 0.2
