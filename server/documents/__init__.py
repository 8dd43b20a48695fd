"""Documents made from numbers: plots, charts, maps, covers and sheets."""
