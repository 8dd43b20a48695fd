"""From a wiring file's tree to the circuit of one setting."""
