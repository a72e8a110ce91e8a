"""Figures, printed sheets and person reports."""
