"""The range of sounds that a set of coils can make, and the best positions among them."""
