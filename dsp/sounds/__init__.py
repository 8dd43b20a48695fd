"""The range of sounds a set of coils can make, the best of them, and the lug charts that make them."""
