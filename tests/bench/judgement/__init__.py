"""Proves the engine's judgement on many drives of the built-in car: `python -m tests.bench.judgement`."""
