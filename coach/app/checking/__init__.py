"""What a stream and this computer look like: for `checkup`, and for others that have to say what is amiss."""
