"""What is found in files, which of it is accepted, and how it is known again."""
