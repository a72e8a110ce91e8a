"""Sign-off: criteria, the decision at a known risk, keys, the signed statement and its standing."""
