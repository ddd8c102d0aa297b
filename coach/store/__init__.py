"""What is kept over the days: one SQLite file, one writer, many readers."""
