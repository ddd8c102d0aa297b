"""Buttons under the thumbs: what is pressed on a game controller or a wheel, heard by a process of its own."""
