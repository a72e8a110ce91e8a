"""Answers and truths in, numbers a laboratory can quote out."""
