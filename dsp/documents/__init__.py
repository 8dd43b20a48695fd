"""Documents as readers see them: trees that know their lines, tables of fields, problems."""
