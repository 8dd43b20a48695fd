"""Documents for readers: trees with line numbers, tables of fields, problems."""
