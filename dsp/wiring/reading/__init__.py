"""Read a wiring file's tree into a Wiring, or report all its problems."""
