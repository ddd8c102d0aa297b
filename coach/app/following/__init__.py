"""A drive that is shared, and one that is followed."""
