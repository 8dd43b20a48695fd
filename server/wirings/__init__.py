"""Read and change the text of a wiring file, comments kept."""
