"""What changes: a catalog before and after, and two results."""
