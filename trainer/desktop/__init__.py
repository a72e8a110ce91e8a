"""The window: loop, inputs, widgets, screens and the calibrated canvas."""
