"""TOML that a person writes: read in bounded memory, and what is wrong in it said in one line."""
