"""Hands-free bench logger: say or key a measurement, hear what is left, keep the log."""

__version__ = "0.1.0"
