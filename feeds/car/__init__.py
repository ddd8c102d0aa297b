"""The built-in car, its circuit and its driver."""
