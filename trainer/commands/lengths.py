"""Units of length as they are typed, in micrometres."""

UM_PER_UNIT = {
    "nm": 1e-3,
    "um": 1.0,
    "µm": 1.0,  # the micro sign
    "μm": 1.0,  # the Greek letter, which some keyboards and papers give
    "mm": 1e3,
    "m": 1e6,
    "in": 25_400.0,  # exactly
    "0.0001 in": 2.54,
}
