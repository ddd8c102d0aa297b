"""What `decipher` does beside its dialogue: the steps, what moves, what is kept, found, shown and proved."""
