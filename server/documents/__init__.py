"""Documents made from the numbers: plots, later charts and sheets."""
