"""Criteria, the decision, and the signed statement with its verification."""
