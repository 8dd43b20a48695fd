"""Takes: found, brought in, examined, made ready to be heard."""
