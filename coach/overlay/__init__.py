"""The overlay: the running delta for the edge of the eye. A sink of events, drawn with pygame."""
