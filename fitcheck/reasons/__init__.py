"""Why a kit is judged as it is, and what would mend it: one file for each question."""
