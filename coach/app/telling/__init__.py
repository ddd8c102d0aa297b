"""What sessions come to, laid out as text in 80 columns. Reads plain values, works out nothing."""
