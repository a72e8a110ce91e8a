"""The micrometer itself: what its scales show at a position, and what a typed text means."""
