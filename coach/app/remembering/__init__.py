"""The verbs of `cornerword memory`."""
