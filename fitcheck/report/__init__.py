"""How a result is shown: files, pages and lines for a terminal. Nothing is computed here."""
