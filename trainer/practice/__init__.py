"""The rules of a drill: plans, dealing of items and the pure state machine of a session."""
