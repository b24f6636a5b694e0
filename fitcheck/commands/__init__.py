"""What a person may type, a file for each family of commands."""
