"""What kept sessions come to: the three things for next time, progress, what helped. Pure."""
