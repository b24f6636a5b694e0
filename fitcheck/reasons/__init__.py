"""Why a kit stands where it does, and what would mend it."""
