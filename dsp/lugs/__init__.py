"""From sounds to a lug chart: which leads and lugs of a real switch to solder together."""
