"""Tenthwise: train, measure and sign off the reading of a micrometer between its graduations."""

__version__ = "0.1.0"
