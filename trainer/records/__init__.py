"""What is kept: the archive, its upgrade steps, import and export."""
