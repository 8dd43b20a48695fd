"""From wanted sounds to a lug chart: which lead and lug of a real switch is soldered to which."""
