"""What the catalog files said, and where."""
