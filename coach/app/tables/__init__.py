"""What the verbs that read recordings share: laps, columns, tables."""
