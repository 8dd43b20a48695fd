"""The database: one SQLite file, its migrations, transactions."""
